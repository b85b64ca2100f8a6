"""How visits are made: what is complete, what is late, and what was accepted, in counts that say how sure they are."""
