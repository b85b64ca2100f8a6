"""A record of invented people to look at and to practise with: three wounds over ten weeks, in rendered photos."""

from measure.demo.filling import DemoError, fill

__all__ = ["DemoError", "fill"]
