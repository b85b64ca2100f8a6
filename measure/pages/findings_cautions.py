"""What to think of, right below the questions that it belongs to, and only where it matters."""

import streamlit as st

from measure.findings.cautions import Caution, cautions
from measure.findings.findings import Findings
from measure.pages.findings_bedside import Bedside
from measure.pages.plain import plain

BELONGING = {
    "closures": "closures",
    "line": "closures",
    "drain": "drains",
    "culture": "culture",
    "irrigation": "irrigation",
    "compression": "dressing",
    "packing": "dressing",
    "foot": "foot",
}
"""Names of findings by the first word of a caution's reason."""

_FOLLOW = "Follow your facility's policy: it comes before this advice."


def cautions_of(name: str, found: Findings, bedside: Bedside) -> tuple[Caution, ...]:
    """Return the cautions that belong to a finding."""
    told = cautions(found, bedside.wound, bedside.earlier)
    return tuple(caution for caution in told if BELONGING.get(caution.reason.partition("-")[0]) == name)


def show_cautions(told: tuple[Caution, ...]) -> None:
    """Show cautions with where they come from, and that policy comes first."""
    if not told:
        return
    sentences = "".join(f"\n- {plain(caution.sentence)}" for caution in told)
    st.warning(f"**Take care**\n{sentences}\n\n{_FOLLOW}", icon=":material/front_hand:")
    sources = dict.fromkeys(caution.source for caution in told)
    st.caption(f"Where this comes from: {plain('; '.join(sources))}.")
