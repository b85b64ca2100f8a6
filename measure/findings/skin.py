"""How the skin round a wound looks and feels; its redness by colour is told by `measure.redness`."""

from types import MappingProxyType

from measure.findings.form import FindingError, all_chosen
from measure.findings.vocabulary import Vocabulary, Word

HEALTHY = "healthy"
"""The value that goes with no other."""

SKIN: Vocabulary = MappingProxyType(
    {
        HEALTHY: Word("healthy", "Whole, and like the skin elsewhere."),
        "reddened": Word("reddened, blanches", "Redder or darker than elsewhere; pales when pressed."),
        "non-blanching": Word("reddened, does not blanch", "Stays red, purple or dark when pressed."),
        "macerated": Word("macerated", "White, soft and wrinkled from moisture."),
        "excoriated": Word("excoriated", "Raw: the surface has been scratched or washed off."),
        "dry": Word("dry or scaly", "Rough, flaking or cracked."),
        "swollen": Word("swollen (oedema)", "Puffy; a pressed finger may leave a dent."),
        "hard": Word("hard (induration)", "Firm to the touch, beyond the edge."),
        "warm": Word("warm", "Warmer than the skin elsewhere."),
        "cool": Word("cool", "Cooler than the skin elsewhere."),
        "bruised": Word("bruised", "Blue to yellow, from blood under the skin."),
        "dark": Word("dark or dusky", "Blue, purple or grey, unlike the skin elsewhere."),
        "stained": Word("stained brown", "Brown from old blood in the skin, as on legs with swollen veins."),
        "blistered": Word("blistered", "Raised by fluid under the surface."),
        "rash": Word("rash", "Spots or bumps, as from tape, moisture or yeast."),
        "torn": Word("torn or stripped", "The surface came off, as with an adhesive."),
        "callused": Word("callused", "Hard, dry, yellowish."),
        "fragile": Word("thin and fragile", "Like paper, tears easily."),
    }
)
"""Several may hold (trade words: common practice)."""


def surrounding(value: object) -> tuple[str, ...]:
    """Return what is said of the skin, each word once.

    Raises
    ------
    FindingError
        If a word is unknown, or healthy skin is said to be something else too.
    """
    said = all_chosen(value, "The surrounding skin", SKIN)
    if HEALTHY in said and len(said) > 1:
        raise FindingError(
            f"The surrounding skin is said to be healthy and {SKIN[said[1]].word}: take one of the two away."
        )
    return said
