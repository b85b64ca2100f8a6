"""Trains the network that proposes outlines; needs the extra ``ebbline[train]``."""
