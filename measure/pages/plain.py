"""Text that a person or a file name brings, shown letter by letter."""

_SIGNS = frozenset("\\`*_{}[]<>#$:~|!&")
"""What begins something in Markdown as Streamlit reads it: emphasis, code, links, formulas, colours, symbols, HTML."""


def plain(text: str) -> str:
    """Return text that means nothing to Markdown; paragraphs stay."""
    return "".join(f"\\{sign}" if sign in _SIGNS else sign for sign in text)
