"""The fluid that a wound gives off: how much, of which kind, and how it smells."""

from dataclasses import dataclass
from types import MappingProxyType

from measure.findings.form import FindingError, chosen, chosen_or_none
from measure.findings.vocabulary import Vocabulary, Word

AMOUNTS: Vocabulary = MappingProxyType(
    {
        "none": Word("none", "The wound bed is dry, and so is the dressing."),
        "scant": Word("scant", "The wound bed is moist; hardly anything is on the dressing."),
        "small": Word("small", "The wound bed is wet; up to a quarter of the dressing is."),
        "moderate": Word("moderate", "A quarter to three quarters of the dressing are wet."),
        "large": Word("large", "More than three quarters of the dressing are wet, or it leaks."),
    }
)
"""How much, judged on the dressing that comes off (shares of the dressing: common practice)."""

KINDS: Vocabulary = MappingProxyType(
    {
        "serous": Word("serous", "Clear and thin, like water or pale straw."),
        "serosanguineous": Word("serosanguineous", "Thin and pink to light red: clear fluid with some blood."),
        "sanguineous": Word("sanguineous", "Red: blood."),
        "seropurulent": Word("seropurulent", "Cloudy and thin, cream to tan."),
        "purulent": Word("purulent", "Thick and not clear: yellow, green, tan or brown."),
    }
)
"""What it looks like (trade words: common practice)."""

ODOURS: Vocabulary = MappingProxyType(
    {
        "none": Word("none", "No smell, close to the wound."),
        "slight": Word("slight", "Noticed close to the wound only."),
        "moderate": Word("moderate", "Noticed at arm's length."),
        "strong": Word("strong", "Noticed in the room, or through the dressing."),
    }
)
"""How strongly it smells, after cleansing: what the dressing has kept smells too (common practice)."""


@dataclass(frozen=True)
class Exudate:
    """Fluid of a wound.

    Attributes
    ----------
    amount : str
        One of `AMOUNTS`.
    kind : str
        One of `KINDS`; empty where nobody said.

    Raises
    ------
    FindingError
        If a value is none of those, or there is a kind of no fluid.
    """

    amount: str
    kind: str = ""

    def __post_init__(self) -> None:
        """Refuse what can't be recorded."""
        chosen(self.amount, "The amount of exudate", AMOUNTS)
        chosen_or_none(self.kind, "The kind of exudate", KINDS)
        if self.amount == "none" and self.kind:
            raise FindingError(f"There is no exudate, and it is {self.kind}: take one of the two away.")

    def __str__(self) -> str:
        """Say it as charts do: moderate serous."""
        return f"{self.amount} {self.kind}".rstrip()
