"""Which findings the site expects at each visit, as its policy says; the quality team can change that."""

import streamlit as st

from measure.pages.held import record
from measure.pages.who import editor
from measure.practice.expected import EXPECTED, FINDINGS, SETTING, expected

_ANSWER = "expected-findings"


def expected_here() -> tuple[str, ...]:
    """Return the names of the findings that the site expects."""
    return expected(record().setting(SETTING))


def ask_expected(*, quality: bool) -> None:
    """Say what is expected, and let the quality team change it."""
    names = expected_here()
    whose = "as your quality team set it" if record().setting(SETTING) else "as is common practice"
    st.caption(f"Expected at each visit, {whose}: {', '.join(FINDINGS[name] for name in names)}.")
    if not quality:
        return
    chosen = st.pills(
        "What does your policy expect at each visit?",
        list(FINDINGS),
        selection_mode="multi",
        default=list(names),
        format_func=FINDINGS.__getitem__,
        key=_ANSWER,
    )
    wanted = [name for name in FINDINGS if name in chosen]
    if not wanted:
        st.caption(f"With none chosen, these count: {', '.join(FINDINGS[name] for name in EXPECTED)}.")
    elif wanted != list(names) and st.button("Expect these from now on", width="stretch"):
        record().set(SETTING, wanted, editor())
        st.rerun()
