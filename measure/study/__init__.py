"""Agreement studies on a record's own photos: which are traced, who is next at which, and what came of it."""
