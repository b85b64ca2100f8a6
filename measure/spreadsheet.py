"""Cells of tables that a spreadsheet opens."""

_FORMULA = ("=", "+", "-", "@", "\t")


def harmless(text: str) -> str:
    """Keep a spreadsheet from taking what a person typed for a formula."""
    return f"'{text}" if text.startswith(_FORMULA) else str(text)
