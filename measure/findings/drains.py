"""A drain at one visit: what it gave, since when, and whether it works again.

What it gave in a day is told by `measure.findings.drain_totals`.
"""

from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType

from measure.findings.form import FindingError, answer, chosen, chosen_or_none, instant, number, text
from measure.findings.vocabulary import Vocabulary, Word

KINDS: Vocabulary = MappingProxyType(
    {
        "bulb": Word("bulb", "A soft bulb that is squeezed flat to suck."),
        "spring": Word("spring reservoir", "A round reservoir with springs that is pressed flat to suck."),
        "bottle": Word("vacuum bottle", "A stiff bottle with a vacuum in it."),
        "gravity": Word("gravity bag", "A bag that hangs lower than the drain, without suction."),
        "open": Word("open drain", "A soft strip or tube that drains into the dressing."),
        "canister": Word("negative pressure canister", "The canister of a pump for negative pressure."),
    }
)
"""What kind of drain (trade words: common practice)."""

SUCKING = frozenset({"bulb", "spring", "bottle", "canister"})
"""The kinds that work by suction."""

APPEARANCES: Vocabulary = MappingProxyType(
    {
        "serous": Word("serous", "Clear and thin, like water or pale straw."),
        "serosanguineous": Word("serosanguineous", "Thin and pink to light red."),
        "sanguineous": Word("bloody (sanguineous)", "Red: blood."),
        "purulent": Word("purulent", "Thick and not clear: yellow, green, tan or brown."),
        "cloudy": Word("cloudy", "Thin, not clear."),
        "bilious": Word("bilious", "Green to golden brown, like bile."),
        "milky": Word("milky", "White, like milk."),
        "enteric": Word("like stool", "Brown, with particles, or with the smell of stool."),
    }
)
"""What the fluid looks like (trade words: common practice)."""

SITES: Vocabulary = MappingProxyType(
    {
        "clean": Word("clean and dry", "The skin where the drain comes out is as elsewhere."),
        "leaking": Word("leaking", "Fluid comes out beside the drain."),
        "reddened": Word("reddened", "The skin round the drain is red or darker than elsewhere."),
        "swollen": Word("swollen or sore", "The skin round the drain is puffy, or hurts when touched."),
        "loose": Word("loose", "The drain has slipped, or what holds it has come off."),
    }
)
"""How the skin looks where a drain comes out."""

MAX_ML = 5000.0
"""Of one emptying: no reservoir holds 5 L; more was typed wrongly."""


@dataclass(frozen=True)
class Drain:
    """A drain.

    Attributes
    ----------
    label : str
        What tells it from the others, as ``1`` or ``left``; the same at each visit.
    kind : str
        One of `KINDS`.
    output_ml : float, optional
        What was emptied out of it; None where it was not emptied.
    since : datetime, optional
        From when on that had gathered; None where nobody knows: since it was emptied before.
    emptied_at : datetime, optional
        With its offset from UTC; given where ``output_ml`` is.
    suction_restored : bool, optional
        Whether it sucks again; None where nobody said, or it never did.
    appearance : str
        One of `APPEARANCES`; empty where nobody said.
    site : str
        One of `SITES`; empty where nobody said.

    Raises
    ------
    FindingError
        If a value is impossible, or the times don't follow each other.
    """

    label: str
    kind: str
    output_ml: float | None = None
    since: datetime | None = None
    emptied_at: datetime | None = None
    suction_restored: bool | None = None
    appearance: str = ""
    site: str = ""

    def __post_init__(self) -> None:
        """Refuse what can't be recorded."""
        object.__setattr__(self, "label", text(self.label, "The label of a drain"))
        if not self.label:
            raise FindingError("A drain has no label: give it a number or a place, the same at each visit.")
        chosen(self.kind, f"The kind of drain {self.label}", KINDS)
        answer(self.suction_restored, f"Whether drain {self.label} sucks again")
        chosen_or_none(self.appearance, f"The fluid of drain {self.label}", APPEARANCES)
        chosen_or_none(self.site, f"The skin at drain {self.label}", SITES)
        self._refuse_output()
        if self.suction_restored is not None and self.kind not in SUCKING:
            raise FindingError(
                f"Drain {self.label} has no suction to restore: leave that open, or choose another kind of drain."
            )

    def _refuse_output(self) -> None:
        if self.output_ml is not None:
            what = f"The output of drain {self.label}"
            object.__setattr__(self, "output_ml", number(self.output_ml, what, 0, MAX_ML, "mL"))
        for name, what in (("since", "The start of its output"), ("emptied_at", "The time it was emptied")):
            given = getattr(self, name)
            object.__setattr__(self, name, None if given is None else instant(given, what))
        if (self.output_ml is None) != (self.emptied_at is None):
            raise FindingError(
                f"Drain {self.label} needs both, how much was emptied and when, or neither: give the other one too."
            )
        if self.since is not None and (self.emptied_at is None or self.since >= self.emptied_at):
            raise FindingError(
                f"The output of drain {self.label} gathered before it was emptied: give a start before that time."
            )

    def __str__(self) -> str:
        """Say it as charts do: drain 1 (bulb) 45 mL serosanguineous, suction restored."""
        told = f"drain {self.label} ({KINDS[self.kind].word})"
        told += "" if self.output_ml is None else f" {self.output_ml:g} mL"
        told += f" {APPEARANCES[self.appearance].word}" if self.appearance else ""
        suction = {True: ", suction restored", False: ", suction not restored", None: ""}[self.suction_restored]
        return told + suction + (f", site {SITES[self.site].word}" if self.site else "")
