"""How a wound was irrigated: with what, how much, and how it was brought on."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from measure.findings.form import above_zero, chosen, chosen_or_none
from measure.findings.vocabulary import Vocabulary, Word

SOLUTIONS: Vocabulary = MappingProxyType(
    {
        "saline": Word("saline", "Sodium chloride 0.9 % in water."),
        "sterile water": Word("sterile water", "Water for irrigation."),
        "tap water": Word("tap water", "Drinking water, where policy allows it."),
        "antimicrobial": Word("antimicrobial cleanser", "A cleanser against germs, as ordered."),
        "other": Word("other", "As ordered; say in the notes which."),
    }
)
"""What with (trade words: common practice)."""

DEVICES: Vocabulary = MappingProxyType(
    {
        "syringe 19 gauge": Word("35 mL syringe, 19 gauge", "A 35 mL syringe with a 19-gauge needle or catheter."),
        "syringe 60 mL": Word("60 mL syringe", "A 60 mL piston syringe with a catheter tip."),
        "bulb syringe": Word("bulb syringe", "A rubber bulb with a tip."),
        "squeeze bottle": Word("squeeze bottle", "A bottle with an irrigation cap."),
        "pouring": Word("pouring", "Poured on from a bottle or with soaked gauze."),
        "powered": Word("powered device", "Pulsed lavage or the like, as ordered."),
        "other": Word("other", "Say in the notes which."),
    }
)
"""How it was brought on (trade words: common practice)."""

PSI: Mapping[str, float] = MappingProxyType(
    {"syringe 19 gauge": 8.0, "syringe 60 mL": 4.2, "bulb syringe": 2.0, "squeeze bottle": 4.5}
)
"""Pressure of those devices, in pounds per square inch (AHCPR 1994, as of `PSI_SOURCE`)."""

PSI_RANGE = (4.0, 15.0)
"""Psi that cleanse without driving fluid into the tissue: less leaves residue, more may harm (as of `PSI_SOURCE`)."""

PSI_SOURCE = (
    "Treatment of Pressure Ulcers, Clinical Practice Guideline 15, Agency for Health Care Policy and Research, 1994; "
    "quoted from memory"
)
"""Where the pressures come from."""

MAX_ML = 10_000.0
"""Of one irrigation: ten bags of a litre; more was typed wrongly."""


@dataclass(frozen=True)
class Irrigation:
    """An irrigation.

    Attributes
    ----------
    solution : str
        One of `SOLUTIONS`.
    volume_ml : float, optional
        How much; None where nobody said.
    device : str
        One of `DEVICES`; empty where nobody said.

    Raises
    ------
    FindingError
        If a value is impossible.
    """

    solution: str
    volume_ml: float | None = None
    device: str = ""

    def __post_init__(self) -> None:
        """Refuse what can't be recorded."""
        chosen(self.solution, "The irrigation solution", SOLUTIONS)
        chosen_or_none(self.device, "The irrigation device", DEVICES)
        if self.volume_ml is not None:
            volume = above_zero(self.volume_ml, "The irrigation volume", MAX_ML, "mL")
            object.__setattr__(self, "volume_ml", volume)

    def __str__(self) -> str:
        """Say it as charts do: irrigated with 250 mL saline, 35 mL syringe, 19 gauge."""
        volume = "" if self.volume_ml is None else f"{self.volume_ml:g} mL "
        device = f", {DEVICES[self.device].word}" if self.device else ""
        return f"irrigated with {volume}{SOLUTIONS[self.solution].word}{device}"
