"""The report of an agreement study, to be handed to a committee: one content, as HTML and as PDF."""
