"""Large controls for findings: words to tap, yes or no, numbers; none is answered before a person does."""

from collections.abc import Callable, Iterable

import streamlit as st

from measure.findings.form import FindingError
from measure.findings.vocabulary import Vocabulary
from measure.pages.findings_answers import Answers
from measure.pages.plain import plain

_ANSWERS = {False: "No", True: "Yes"}


class UnfinishedError(FindingError):
    """An answer that needs another one before it can be kept; nothing is wrong with it."""

    code = "unfinished-finding"


def lack(missing: Iterable[str], what: str) -> None:
    """Refuse what can't be kept yet.

    Raises
    ------
    UnfinishedError
        If anything is missing.
    """
    if words := list(missing):
        raise UnfinishedError(f"{what} is not kept yet: still missing {' and '.join(words)}.")


def tell_trouble(made: Callable[[], object]) -> bool:
    """Say in a sentence why what stands above can't be kept, and whether that is so."""
    try:
        made()
    except UnfinishedError as open_yet:
        st.caption(plain(str(open_yet)))
    except FindingError as trouble:
        st.error(plain(str(trouble)), icon=":material/error:")
    else:
        return False
    return True


def capitalised(word: str) -> str:
    """Return a word as it stands on a button."""
    return word[:1].upper() + word[1:]


def one_of(answers: Answers, name: str, label: str, words: Vocabulary) -> None:
    """Ask for one word, and say what the one chosen means."""
    st.pills(label, list(words), format_func=_shown(words), key=answers.at(name), persist_state="session")
    _meanings([answers[name]] if answers[name] else [], words)


def some_of(answers: Answers, name: str, label: str, words: Vocabulary) -> None:
    """Ask for any number of words, and say what those chosen mean."""
    st.pills(
        label,
        list(words),
        selection_mode="multi",
        format_func=_shown(words),
        key=answers.at(name),
        persist_state="session",
    )
    _meanings(answers[name] or [], words)


def _shown(words: Vocabulary) -> Callable[[str], str]:
    return lambda value: capitalised(words[value].word)


def _meanings(values: Iterable[str], words: Vocabulary) -> None:
    chosen = [words[value] for value in words if value in values]
    if chosen:
        st.caption("  \n".join(f"{capitalised(word)}: {meaning}" for word, meaning in chosen))


def explain(*tables: Vocabulary) -> None:
    """Let a person read what all words mean."""
    with st.popover("What the words mean", width="stretch"):
        for words in tables:
            st.markdown("\n".join(f"- **{capitalised(word)}.** {meaning}" for word, meaning in words.values()))


def yes_or_no(answers: Answers, name: str, question: str) -> None:
    """Ask a question; tapping the answer again takes it back."""
    st.segmented_control(
        question,
        list(_ANSWERS),
        format_func=_ANSWERS.__getitem__,
        key=answers.at(name),
        width="stretch",
        persist_state="session",
    )


def length_cm(answers: Answers, name: str, label: str) -> None:
    """Ask for cm."""
    key = answers.at(name)
    st.number_input(f"{label}, cm", 0.0, value=None, step=0.5, format="%0.1f", key=key, persist_state="session")


def volume_ml(answers: Answers, name: str, label: str, step: float) -> None:
    """Ask for mL."""
    key = answers.at(name)
    st.number_input(f"{label}, mL", 0.0, value=None, step=step, format="%0.0f", key=key, persist_state="session")


def count(answers: Answers, name: str, label: str) -> None:
    """Ask how many."""
    st.number_input(label, 0, value=None, step=1, key=answers.at(name), persist_state="session")


def words_of(answers: Answers, name: str, label: str) -> None:
    """Ask for a few words of one's own."""
    st.text_input(label, key=answers.at(name), persist_state="session")
