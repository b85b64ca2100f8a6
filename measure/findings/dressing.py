"""The dressing: what came off, what went on, how, and when it is to be changed next."""

from dataclasses import dataclass
from datetime import date
from types import MappingProxyType

from measure.findings.form import chosen_or_none, day, text
from measure.findings.vocabulary import Vocabulary, Word

TECHNIQUES: Vocabulary = MappingProxyType(
    {
        "clean": Word("clean", "Clean gloves, clean field, sterile supplies kept from being soiled."),
        "sterile": Word("sterile", "Sterile gloves, sterile field, sterile instruments and supplies."),
    }
)
"""How it was changed (trade words: common practice)."""

MATERIALS: Vocabulary = MappingProxyType(
    {
        "gauze": Word("gauze", "Woven or non-woven cotton pads."),
        "moist gauze": Word("moist gauze", "Gauze moistened with saline, with a dry cover."),
        "packing strip": Word("packing strip", "A narrow strip to fill a tunnel or hollow; one end stays in sight."),
        "contact layer": Word("contact layer", "A mesh that does not stick to the wound."),
        "foam": Word("foam", "A pad that takes up fluid."),
        "film": Word("film", "A thin clear sheet."),
        "hydrocolloid": Word("hydrocolloid", "A sheet that turns to gel on fluid."),
        "hydrogel": Word("hydrogel", "A gel that gives moisture."),
        "alginate": Word("alginate", "Fibres of seaweed that turn to gel on fluid."),
        "gelling fibre": Word("gelling fibre", "Fibres that hold fluid as a gel."),
        "silver": Word("silver dressing", "A dressing with silver in it."),
        "honey": Word("honey dressing", "A dressing with medical honey."),
        "collagen": Word("collagen", "A sheet or powder of collagen."),
        "negative pressure": Word("negative pressure", "Foam or gauze under a film, with a pump."),
        "compression": Word("compression bandage", "Layers of bandage that press on the leg."),
        "absorbent pad": Word("absorbent pad", "A thick pad over other dressings."),
    }
)
"""Materials to choose from; a text of one's own is kept as well."""


@dataclass(frozen=True)
class Dressing:
    """A change of the dressing.

    Attributes
    ----------
    removed, applied : str
        What came off and what went on: words of `MATERIALS`, or others; empty where nobody said.
    technique : str
        One of `TECHNIQUES`; empty where nobody said.
    next_due : date, optional
        When the next change is due.

    Raises
    ------
    FindingError
        If a text can't be shown on one line, or a value is impossible.
    """

    removed: str = ""
    applied: str = ""
    technique: str = ""
    next_due: date | None = None

    def __post_init__(self) -> None:
        """Refuse what can't be recorded."""
        object.__setattr__(self, "removed", text(self.removed, "The dressing that came off"))
        object.__setattr__(self, "applied", text(self.applied, "The dressing that went on"))
        chosen_or_none(self.technique, "The technique", TECHNIQUES)
        if self.next_due is not None:
            object.__setattr__(self, "next_due", day(self.next_due, "The next dressing change"))

    def __str__(self) -> str:
        """Say it as charts do: foam removed, alginate applied, clean technique, next change 2026-03-08."""
        told = [f"{self.removed} removed"] if self.removed else []
        told += [f"{self.applied} applied"] if self.applied else []
        told += [f"{self.technique} technique"] if self.technique else []
        told += [f"next change {self.next_due.day} {self.next_due:%B %Y}"] if self.next_due else []
        return ", ".join(told)
