"""Flags: things to look twice at. One table holds every code with its sentences."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple


@dataclass(frozen=True)
class Flag:
    """Something a person should look at twice: a stable code and the sentence for the nurse."""

    code: str
    sentence: str


class FlagText(NamedTuple):
    """What a flag says: to the nurse, with {places} to fill in, and to the developer."""

    nurse: str
    developer: str


FLAGS: Mapping[str, FlagText] = MappingProxyType(
    {
        "several-stickers": FlagText(
            "{count} stickers were found ({layouts}). {used}",
            "Those in the plane of the one with the most saddle points, and of its size, are fitted jointly.",
        ),
        "sticker-cut-off": FlagText(
            "Part of the '{layout}' sticker is outside the photo. The numbers are less certain: "
            "take the photo again with the whole sticker in it, if you can.",
            "At least one corner of the layout's outline projects outside the frame.",
        ),
        "sticker-covered": FlagText(
            "Only {percent} % of the '{layout}' sticker could be read. The numbers are less certain: "
            "uncover it, wipe it, or avoid glare on it.",
            "Fewer than 70 % of the layout's saddle points were matched.",
        ),
        "sticker-points-left-out": FlagText(
            "{count} of {all} points of the stickers did not fit and were left out; they are crossed out in the "
            "picture. Something may cover, crease or shade the sticker there.",
            "More than a twentieth of the saddle points were rejected as outliers of the fit.",
        ),
        "limb-corrected": FlagText(
            "The sticker is {shape}. That is corrected: the numbers are taken along the skin, as if it were laid flat.",
            "A cylinder was fitted; area and perimeter are those of the unrolled surface.",
        ),
        "curve-unseen": FlagText(
            "The sticker does not show well how the skin curves at wound {wound}; its area is uncertain by {percent} % "
            "for that alone. Lay the sticker closer, so that it bends with the skin.",
            "The component 'curvature' of the area exceeds 3 %; the percentage is k = 2.",
        ),
        "no-capture-time": FlagText(
            "The file does not say when the photo was taken. Write date and time down beside the numbers.",
            "No readable EXIF DateTimeOriginal. Not a check: another photo by the same camera would lack it too.",
        ),
        "photo-resized": FlagText(
            "The photo has {width} x {height} pixels, the camera noted {noted}: it was cut or resized. "
            "Measure the original photo if there is one.",
            "The sides differ by more than 2 % from EXIF PixelXDimension and PixelYDimension, either way round.",
        ),
        "no-wound-proposed": FlagText(
            "No wound outline could be proposed. If there is a wound, its outline has to be drawn by hand.",
            "The proposal returned no outline; nothing was measured.",
        ),
        "outline-proposed": FlagText(
            "The outline was proposed by the computer and nobody has corrected it: check it against the photo, most "
            "of all where new skin grows in at the rim.",
            "Set for every wound list that comes from a proposal.",
        ),
        "outline-unsure": FlagText(
            "The proposed edge of wound {wound} is unsure: its area may be off by {percent} %. Go round it, and move "
            "the edge where it does not lie on the wound's.",
            "The component 'outline placement' of a proposed area is above 7.5 %.",
        ),
        "outline-not-checked": FlagText(
            "Of the edge of wound {wound}, {percent} % is still as the computer proposed it, and nobody has said that "
            "it is right: check all of it against the photo.",
            "A person corrected a proposal in part, without saying that the rest is right: there the method's own "
            "uncertainty stays in the budget.",
        ),
        "few-points": FlagText(
            "The outline of wound {wound} has only {count} points. A curved edge drawn with fewer than 24 points "
            "comes out too small.",
            "An ellipse drawn with 24 inscribed vertices loses 1.1 % of its area, with 12 it loses 4.5 %.",
        ),
        "outline-on-sticker": FlagText(
            "The outline of wound {wound} lies partly on the sticker: check that it follows the wound.",
            "More than 2 % of a given outline's area overlaps the outline of a sticker.",
        ),
        "head-assumed": FlagText(
            "The head was taken to be at the top of the photo. If it is not, say where it is.",
            "Convention head-to-toe without a direction of the head.",
        ),
        "colour-unsure": FlagText(
            "The sticker's colour patches come out {residual} units of colour difference off, {limit} or less are "
            "expected: tissue and redness are less certain. Print the sticker on a colour printer with fresh ink, and "
            "keep other lamps and glare away from it.",
            "The median CIEDE2000 of left-out patches is above 4.",
        ),
        "colour-refused": FlagText(
            "The sticker's colour patches come out {residual} units of colour difference off, {limit} at most are "
            "accepted, so nothing is said of tissue and redness: name them by eye. Print the sticker anew, in colour, "
            "and keep other lamps and glare away from it.",
            "The median CIEDE2000 of left-out patches is above 8.",
        ),
        "colour-from-paper": FlagText(
            "Too few colour patches of the sticker could be read, so the colour of the light was taken from its paper "
            "alone: tissue and redness are less certain. Show the whole sticker, without glare and in more even light.",
            "No patch could be left out of the fit, so no residual tells how true colours are.",
        ),
        "colour-from-greys": FlagText(
            "No colour patch of the sticker could be used, only its greys: tissue and redness are less certain. Print "
            "the sticker in colour, and show all of it.",
            "Every colour patch was left out, as of a black-and-white print; the budget allows for unknown primaries.",
        ),
        "colour-unknown": FlagText(
            "The colour of the light is not known, so nothing is said of tissue and redness: name them by eye, and lay "
            "a printed sticker beside the wound next time, well lit.",
            "No sticker, or nothing of it could be read.",
        ),
        "tissue-unclear": FlagText(
            "What {percent} % of wound {wound} is made of can't be told: glare, shadow, blood or remains of a dressing "
            "lie on it, or its colour fits no tissue. Cleanse it as your policy says and take the photo again, or say "
            "what it is.",
            "The class 'unclear' takes more than a fifth of the area.",
        ),
        "scale-by-hand": FlagText(
            "The scale comes from two points marked by hand, so a tilted camera could not be corrected. "
            "Sharpness and light were not checked: look for yourself.",
            "A similarity from two points; the budget holds a component for an unknown tilt.",
        ),
        "sticker-not-used": FlagText(
            "A sticker is in the photo, but the scale was given by hand: leave that out to use the sticker.",
            "find_stickers succeeds on a photo measured from two points.",
        ),
        "scale-by-ruler": FlagText(
            "The scale comes from a plain ruler, so a tilted camera could not be corrected. "
            "Sharpness and light were not checked: look for yourself, and lay a sticker next time.",
            "A similarity from the scale at the ruler's middle; the budget holds a component for an unknown tilt.",
        ),
    }
)
"""Every flag by its code. Codes are stable: records and exports keep them."""

SAID_BY_CHECKS = frozenset({"sticker-cut-off", "sticker-covered"})
"""Flags that a failed check tells a person already; documents keep them."""


def told(flags: Iterable[Flag]) -> list[Flag]:
    """Return the flags to tell a person, beside the sentences of failed checks."""
    return [flag for flag in flags if flag.code not in SAID_BY_CHECKS]


def flag(code: str, **facts: object) -> Flag:
    """Return a flag with the facts filled into its sentence.

    Raises
    ------
    KeyError
        If the code is not in `FLAGS`, or a fact is missing.
    """
    return Flag(code, FLAGS[code].nurse.format(**facts))
