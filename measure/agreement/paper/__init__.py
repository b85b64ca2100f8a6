"""The report of an agreement study, to be handed to a committee: one content, as HTML and as PDF."""

from measure.agreement.paper.writing import write_paper

__all__ = ["write_paper"]
