"""A page that asks for findings and another one to go to: run it with ``python -m streamlit run tests/bedside.py``.

The address names the wound: ``?wound=foot``; with ``&first=1`` there was no visit before.
"""

import ast
import json
from datetime import UTC, datetime
from pathlib import Path

import streamlit as st

from measure.findings.drains import Drain
from measure.findings.dressing import Dressing
from measure.findings.exudate import Exudate
from measure.findings.findings import Findings, documents
from measure.pages.findings import ask_findings, findings_of, forget_findings, troubles_of
from measure.pages.findings_shown import show_findings
from measure.record.entries import Event, Kind, Side, Site, What, WoundEntry

ROOT = Path(__file__).parent.parent

PLACES = {
    "foot": (Site(Side.LEFT, "heel", "plantar"), Kind.DIABETIC_FOOT),
    "abdomen": (Site(Side.MIDLINE, "abdomen"), Kind.SURGICAL),
    "back": (Site(Side.MIDLINE, "sacrum"), Kind.PRESSURE),
}
KEY = "P014/2"
AT = datetime(2026, 3, 5, 14, 30, tzinfo=UTC)
EMPTIED = datetime(2026, 3, 5, 2, 30, tzinfo=UTC)

EARLIER = Findings(
    depth_cm=1.2,
    exudate=Exudate("moderate", "serous"),
    odour="none",
    edges=("attached", "rolled"),
    skin=("macerated", "warm"),
    pain=4,
    drains=(Drain("1", "bulb", 60.0, datetime(2026, 3, 4, 14, 30, tzinfo=UTC), EMPTIED),),
    dressing=Dressing("gauze", "alginate + my own pad", "clean", AT.date()),
)


def wound_at(place):
    """Return a wound at one of `PLACES`."""
    site, kind = PLACES[place]
    return WoundEntry(7, "P014", 2, site, kind, (Event(What.OPENED, AT, "AB"),))


def style_of_the_app():
    """Return the style sheet of app.py, which can't be imported without being run."""
    tree = ast.parse((ROOT / "app.py").read_text(encoding="utf-8"))
    return next(
        node.value.value for node in tree.body if isinstance(node, ast.Assign) and node.targets[0].id == "STYLE"
    )


def findings():
    """Ask, and tell what was heard."""
    st.session_state["runs"] = st.session_state.get("runs", 0) + 1
    wound = wound_at(st.query_params.get("wound", "foot"))
    first = "first" in st.query_params
    ask_findings(wound, KEY, None if first else EARLIER, at=AT)
    st.button("Forget", on_click=forget_findings, args=(KEY,))
    st.button("Hear")
    told()


def elsewhere():
    """Tell what was heard on another page, and show it as a past visit's."""
    st.title("Elsewhere")
    show_findings(findings_of(KEY), wound_at(st.query_params.get("wound", "foot")))
    told()


def told():
    """Write what was heard as JSON."""
    st.code(json.dumps(documents(findings_of(KEY))), language=None)
    st.code(json.dumps(troubles_of(KEY)), language=None)
    st.code(str(st.session_state.get("runs", 0)), language=None)


if __name__ == "__main__":
    st.set_page_config(layout="centered", initial_sidebar_state="collapsed")
    st.html(style_of_the_app())
    pages = [st.Page(findings, title="Findings", default=True), st.Page(elsewhere, title="Elsewhere")]
    st.navigation(pages, position="top").run()
