"""The quality team: who may see numbers about single people, by a list of the site; nothing but typing protects it."""

import streamlit as st

from measure.editing import EditingError, usable_by
from measure.pages.held import record
from measure.pages.plain import plain
from measure.pages.who import editor, named

SETTING = "quality_team"
"""Of the site: a list of initials or staff codes."""

_ANSWER = "quality-team"
_SAVED = "quality-team-saved"


def quality_team() -> list[str]:
    """Return who is on the team; empty while nobody was named."""
    said = record().setting(SETTING)
    return [str(by) for by in said] if isinstance(said, list) else []


def is_quality() -> bool:
    """Whether who works in this session is on the team."""
    return _among(editor(), quality_team())


def ask_quality_team() -> None:
    """Show who is on the team, and let those change the list who may: anybody the first one, later the team alone."""
    team = quality_team()
    with st.expander("Quality team: who sees numbers about single people"):
        st.markdown(
            "Numbers about single people show to the quality team only. **No password protects this:** whoever types "
            "initials that are on the list is taken to be on the team. Let only those use this page who may."
        )
        if told := st.session_state.pop(_SAVED, ""):
            st.success(told, icon=":material/check:")
        st.markdown(f"On the team: **{plain(', '.join(team))}**." if team else "Nobody is on the team yet.")
        if not editor() and not named("You are", "To change the list: who are you?"):
            return
        if team and not _among(editor(), team):
            st.caption("Only those on the list can change it. Every list that was ever saved stays in the record.")
            return
        _ask(team)


def _ask(team: list[str]) -> None:
    with st.form("quality-team-form", border=False):
        answer = st.text_input(
            "Initials or staff codes on the team, with commas between", ", ".join(team or [editor()]), key=_ANSWER
        )
        pressed = st.form_submit_button("Save this list", width="stretch")
    st.caption("Every list that was ever saved stays in the record, with who saved it.")
    if not pressed:
        return
    try:
        wanted = _read(answer)
    except EditingError as error:
        st.error(plain(str(error)), icon=":material/error:")
        return
    if quality_team() != team:
        st.error(
            "Not saved: somebody else has changed the list since this page was drawn. Look at it again.",
            icon=":material/error:",
        )
        return
    record().set(SETTING, wanted, editor())
    st.session_state[_SAVED] = "Saved."
    st.rerun()


def _read(answer: str) -> list[str]:
    """Return the codes, each once.

    Raises
    ------
    EditingError
        If one can't be recorded, or who works is not among them: nobody might be left then who can change the list.
    """
    wanted = {code.casefold(): code for code in map(usable_by, filter(str.strip, answer.split(",")))}
    if not _among(editor(), list(wanted.values())):
        raise EditingError(
            "Your own initials are missing, and the list could be left to nobody: add them. Somebody else on it can "
            "take them off later."
        )
    return list(wanted.values())


def _among(by: str, team: list[str]) -> bool:
    return bool(by) and by.casefold() in {each.casefold() for each in team}
