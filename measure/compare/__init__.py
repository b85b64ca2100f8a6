"""Two visits to one wound laid over one another, and how far its edge advanced between them."""
