"""The series of a wound over time: what has changed, by how much, and whether that is more than the noise."""
