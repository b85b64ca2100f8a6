"""Measurements of the tool itself: run by hand, printed in the README, not part of the tests."""
