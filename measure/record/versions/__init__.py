"""Numbered steps from one form of the tables to the next; see `measure.record.migration`."""
