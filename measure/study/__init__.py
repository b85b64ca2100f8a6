"""Agreement studies on the photos of a record: the draw, whose turn it is, what was traced."""
