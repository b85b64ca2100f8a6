"""A foot with a wound: its pulses, feeling, warmth and colour, and what the person was taught."""

from dataclasses import dataclass
from types import MappingProxyType

from measure.findings.form import all_chosen, chosen_or_none
from measure.findings.vocabulary import Vocabulary, Word

NOT_CHECKED = Word("not checked", "Nobody looked today.")

PULSES: Vocabulary = MappingProxyType(
    {
        "felt": Word("felt", "At least one of the two pulses, on top of the foot or behind the ankle, is felt."),
        "heard": Word("heard, not felt", "Neither is felt; a Doppler probe hears one."),
        "not felt": Word("not felt", "Neither is felt, and none was heard."),
        "not checked": NOT_CHECKED,
    }
)
"""Pulses of the foot (common practice)."""

SENSATION: Vocabulary = MappingProxyType(
    {
        "full": Word("felt everywhere", "The person feels a 10 g monofilament at all sites."),
        "reduced": Word("reduced", "Not felt at one site or more."),
        "absent": Word("absent", "Felt nowhere."),
        "not checked": NOT_CHECKED,
    }
)
"""Feeling, with a 10 g monofilament (common practice)."""

TEMPERATURES: Vocabulary = MappingProxyType(
    {
        "alike": Word("like the other foot", "Both feet are equally warm to the back of the hand."),
        "warmer": Word("warmer than the other foot", "Felt with the back of the hand."),
        "cold": Word("colder than the other foot", "Felt with the back of the hand."),
        "not checked": NOT_CHECKED,
    }
)
"""Warmth, beside the other foot (common practice)."""

COLOURS: Vocabulary = MappingProxyType(
    {
        "usual": Word("usual", "As the person's skin is elsewhere."),
        "pale": Word("pale", "Paler than the other foot."),
        "dusky": Word("blue or dusky", "Blue, purple or grey."),
        "red": Word("red", "Redder or darker than the other foot."),
        "not checked": NOT_CHECKED,
    }
)
"""Colour of the foot."""

TEACHING: Vocabulary = MappingProxyType(
    {
        "look daily": Word("look every day", "Look at both feet every day, the soles with a mirror or a helper."),
        "shoes": Word("shoes", "Feel inside shoes before putting them on; wear ones that do not rub."),
        "never barefoot": Word("never barefoot", "Do not walk barefoot, not at home either."),
        "offloading": Word("offloading", "Wear the device that takes weight off the wound for every step."),
        "wash and dry": Word("wash and dry", "Wash daily in lukewarm water, dry well between the toes; do not soak."),
        "cream": Word("cream", "Cream dry skin, but not between the toes."),
        "nails and callus": Word("nails and callus", "Leave callus, corns and thick nails to a professional."),
        "no heat": Word("no heat", "No hot-water bottles or heating pads on feet that feel little."),
        "glucose": Word("blood sugar", "Keep blood sugar in the range that the provider gave."),
        "smoking": Word("smoking", "Not smoking helps blood to reach the foot."),
        "when to call": Word(
            "when to call", "Call about redness, swelling, pus, smell, fever, or a cold or dark foot."
        ),
    }
)
"""What a person with a foot at risk is taught (common practice)."""


@dataclass(frozen=True)
class Foot:
    """A foot; each value is empty where nobody said.

    Attributes
    ----------
    pulses, sensation, temperature, colour : str
        One of `PULSES`, `SENSATION`, `TEMPERATURES`, `COLOURS`.
    teaching : tuple of str
        Of `TEACHING`: what was talked about.

    Raises
    ------
    FindingError
        If a value is unknown.
    """

    pulses: str = ""
    sensation: str = ""
    temperature: str = ""
    colour: str = ""
    teaching: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what can't be recorded."""
        chosen_or_none(self.pulses, "Pulses of the foot", PULSES)
        chosen_or_none(self.sensation, "Feeling in the foot", SENSATION)
        chosen_or_none(self.temperature, "Warmth of the foot", TEMPERATURES)
        chosen_or_none(self.colour, "Colour of the foot", COLOURS)
        object.__setattr__(self, "teaching", all_chosen(self.teaching, "Teaching", TEACHING))

    def __str__(self) -> str:
        """Say it as charts do: pulses felt, sensation reduced, taught: look every day."""
        told = [f"pulses {PULSES[self.pulses].word}"] if self.pulses else []
        told += [f"sensation {SENSATION[self.sensation].word}"] if self.sensation else []
        told += [f"warmth {TEMPERATURES[self.temperature].word}"] if self.temperature else []
        told += [f"colour {COLOURS[self.colour].word}"] if self.colour else []
        told += [f"taught: {', '.join(TEACHING[point].word for point in self.teaching)}"] if self.teaching else []
        return ", ".join(told)
