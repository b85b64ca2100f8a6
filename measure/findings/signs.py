"""Signs that matter at once: questions to the nurse, answered yes or no, or left open. No photo answers them."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from measure.findings.form import FindingError, answer


class Sign(NamedTuple):
    """One sign: how it is shown, the question that is asked, and whether only of a wound on a leg or foot."""

    word: str
    question: str
    of_limb: bool = False


SIGNS: Mapping[str, Sign] = MappingProxyType(
    {
        "spreading redness": Sign(
            "spreading redness", "Has redness or darkening spread over the skin since the last visit?"
        ),
        "warmth": Sign("warmth", "Is the skin round the wound warmer than the skin elsewhere?"),
        "swelling": Sign("new swelling", "Is there new swelling or hardness round the wound?"),
        "pus": Sign("pus", "Does thick fluid come out that is not clear: yellow, green, tan or brown?"),
        "new pain": Sign("new or worse pain", "Is there new pain, or pain that is worse than at the last visit?"),
        "fever": Sign("fever", "Does the person have a fever or chills?"),
        "unwell": Sign("newly unwell", "Is the person newly confused or faint, or is breathing or pulse fast?"),
        "crepitus": Sign("crackling", "Does the skin crackle when you press it?"),
        "exposed bone": Sign("exposed bone", "Can bone be seen in the wound, or felt with a probe?"),
        "exposed tendon": Sign("exposed tendon", "Can tendon, or a joint, be seen in the wound?"),
        "exposed organ": Sign("organ in sight", "Can anything from inside the body, as bowel, be seen in the wound?"),
        "bowel content": Sign("bile or stool", "Does bile or stool come out of the wound?"),
        "bleeding": Sign("bleeding", "Does the wound bleed, and not stop when you press on it?"),
        "dark skin": Sign("newly dark skin", "Has skin round the wound newly turned purple, black or blistered?"),
        "cold or pale": Sign("newly cold or pale", "Is the foot or leg newly cold, pale or blue?", of_limb=True),
    }
)
"""The questions, in the order in which they are asked (what provider notification policies name: common practice)."""


def answered(value: object) -> Mapping[str, bool]:
    """Return the answers, of questions that were answered alone, in the order in which they are asked.

    Raises
    ------
    FindingError
        If a sign is unknown, or answered otherwise than by yes or no.
    """
    if not isinstance(value, Mapping):
        raise FindingError("The signs are given in another form; answers by the name of each sign are expected.")
    unknown = [name for name in value if name not in SIGNS]
    if unknown:
        raise FindingError(f"There is no sign named '{unknown[0]}'; the names are {', '.join(SIGNS)}.")
    said = {name: answer(value[name], f"'{SIGNS[name].word.capitalize()}'") for name in SIGNS if name in value}
    return MappingProxyType({name: yes for name, yes in said.items() if yes is not None})
