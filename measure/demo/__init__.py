"""A record of invented people to look at and to practise with: three wounds over ten weeks, and two studies."""

from measure.demo.filling import DemoError, fill

__all__ = ["DemoError", "fill"]
