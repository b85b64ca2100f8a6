"""What to think of while findings are entered: each caution stands only where it matters, and says where it comes from.

Advice at the bedside, never a diagnosis; a facility's policy comes before all of it, and the last caution says so.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple

from measure.findings.closures import COUNTED, SEPARATED, Closures
from measure.findings.culture import Culture
from measure.findings.drains import SUCKING, Drain
from measure.findings.findings import Findings
from measure.findings.irrigation import DEVICES, PSI, PSI_RANGE, PSI_SOURCE, Irrigation
from measure.record.entries import Kind, WoundEntry

COMMON = "common practice"
_SWABS = "guidelines on wound swabs, from memory"
_FOOT = "International Working Group on the Diabetic Foot, guidelines 2023, from memory"


@dataclass(frozen=True)
class Caution:
    """One caution.

    Attributes
    ----------
    reason : str
        A short stable name.
    sentence : str
        What to think of, in plain words.
    source : str
        Where that comes from.
    """

    reason: str
    sentence: str
    source: str


class CautionText(NamedTuple):
    """What a caution says, with {places} to fill in, and where it comes from."""

    sentence: str
    source: str


CAUTIONS: Mapping[str, CautionText] = MappingProxyType(
    {
        "irrigation-splash": CautionText(
            "Irrigation splashes: protect your eyes and face, and wear gloves and a gown.",
            f"standard precautions: {COMMON}",
        ),
        "irrigation-pressure": CautionText(
            "Irrigate at {least:g} to {most:g} psi: less leaves residue behind, more may harm tissue. A 35 mL syringe "
            "with a 19-gauge catheter gives about {usual:g} psi.",
            PSI_SOURCE,
        ),
        "irrigation-pressure-low": CautionText(
            "A {device} gives about {psi:g} psi, less than the {least:g} to {most:g} psi that cleanse a wound. A 35 mL "
            "syringe with a 19-gauge catheter gives about {usual:g} psi.",
            PSI_SOURCE,
        ),
        "irrigation-tunnel": CautionText(
            "The wound has a tunnel or a hollow under its edge: irrigate gently, and see that what goes in comes out "
            "again.",
            COMMON,
        ),
        "closures-order": CautionText(
            "Remove {kind} only if a provider has ordered it; the chart does not say so yet.", COMMON
        ),
        "closures-alternate": CautionText(
            "Remove every other one first, and look whether the line holds before you remove the rest.", COMMON
        ),
        "closures-stop": CautionText("Stop and call the provider if the line separates.", COMMON),
        "line-separated": CautionText(
            "The line has separated: stop, leave the other {kind} in, and call the provider.", COMMON
        ),
        "closures-count": CautionText(
            "At the visit before {before} {kind} were left, and now {now} are counted: count again, and tell the "
            "provider if one can't be accounted for.",
            COMMON,
        ),
        "culture-order": CautionText("Take a culture only if a provider has ordered it.", COMMON),
        "culture-antibiotics": CautionText(
            "Swab before antibiotics are started, if the order allows it; if they were started, write that on the "
            "request.",
            _SWABS,
        ),
        "culture-cleansing": CautionText(
            "Cleanse the wound with saline before the swab is taken, not with an antiseptic.", _SWABS
        ),
        "culture-tissue": CautionText(
            "Press the swab on clean, living tissue, not on slough, eschar or pus.", f"Levine's technique; {_SWABS}"
        ),
        "foot-pulses": CautionText("Feel for both pulses of the foot, and write down what you find.", _FOOT),
        "foot-sensation": CautionText(
            "The foot feels less: a low rating of pain does not mean that little is wrong.", COMMON
        ),
        "foot-offloading": CautionText(
            "Talk about keeping weight off the wound: the device helps only when it is worn for every step.", _FOOT
        ),
        "compression": CautionText(
            "Compression can cut off the blood of a leg that gets little: {why}. Ask the provider before it goes on.",
            COMMON,
        ),
        "packing": CautionText(
            "Count what is packed into the wound, leave an end in sight, and write the number down.", COMMON
        ),
        "drain-suction": CautionText(
            "Drain {label} works by suction: press it flat or renew its vacuum, close it, and write down that it sucks "
            "again.",
            COMMON,
        ),
        "drain-since": CautionText(
            "Nobody said since when the output of drain {label} had gathered: totals of 24 hours leave it out.",
            "how totals of 24 hours are counted here",
        ),
        "policy": CautionText("Your facility's policy comes before this advice.", COMMON),
    }
)
"""Every caution by its reason; a reason never changes."""

_Found = Iterator[tuple[str, Mapping[str, object]]]


def cautions(findings: Findings, wound: WoundEntry, earlier: Findings | None = None) -> tuple[Caution, ...]:
    """Return what to think of with these findings; nothing where nothing matters.

    Parameters
    ----------
    findings : Findings
        As far as they have been entered.
    wound : WoundEntry
    earlier : Findings, optional
        Of the visit before.
    """
    found = [_caution(reason, facts) for reason, facts in _found(findings, wound, earlier or Findings())]
    return (*found, _caution("policy", {})) if found else ()


def _caution(reason: str, facts: Mapping[str, object]) -> Caution:
    sentence, source = CAUTIONS[reason]
    return Caution(reason, sentence.format(**facts), source)


def _found(findings: Findings, wound: WoundEntry, earlier: Findings) -> _Found:
    if findings.irrigation:
        yield from _of_irrigation(findings.irrigation, findings)
    if findings.closures:
        yield from _of_closures(findings.closures, earlier.closures)
    if findings.culture:
        yield from _of_culture(findings.culture)
    yield from _of_foot(findings, wound)
    yield from _of_dressing(findings, wound)
    for drain in findings.drains or ():
        yield from _of_drain(drain, earlier)


def _of_irrigation(irrigation: Irrigation, findings: Findings) -> _Found:
    yield "irrigation-splash", {}
    least, most = PSI_RANGE
    facts: dict[str, object] = {"least": least, "most": most, "usual": PSI["syringe 19 gauge"]}
    psi = PSI.get(irrigation.device)
    if psi is None:
        yield "irrigation-pressure", facts
    elif psi < least:
        yield "irrigation-pressure-low", facts | {"device": DEVICES[irrigation.device].word, "psi": psi}
    if findings.tunnels or findings.undermining:
        yield "irrigation-tunnel", {}


def _of_closures(closures: Closures, earlier: Closures | None) -> _Found:
    facts: dict[str, object] = {"kind": closures.kind}
    same = earlier if earlier and earlier.kind == closures.kind else None
    if same and closures.kind in COUNTED and same.remaining != closures.present:
        yield "closures-count", facts | {"before": same.remaining, "now": closures.present}
    if closures.line == SEPARATED:
        yield "line-separated", facts
        return
    if not closures.present:
        return
    if closures.kind in COUNTED and not closures.order_recorded:
        yield "closures-order", facts
    if closures.kind in COUNTED and closures.present > 1 and not closures.alternate and not (same and same.alternate):
        yield "closures-alternate", {}
    yield "closures-stop", {}


def _of_culture(culture: Culture) -> _Found:
    if not culture.ordered:
        yield "culture-order", {}
    if not culture.ordered and not culture.taken:
        return
    if not culture.before_antibiotics:
        yield "culture-antibiotics", {}
    if not culture.after_cleansing:
        yield "culture-cleansing", {}
    if not culture.viable_tissue:
        yield "culture-tissue", {}


def _of_foot(findings: Findings, wound: WoundEntry) -> _Found:
    foot = findings.foot
    if foot is None:
        return
    if foot.pulses in {"", "not checked"}:
        yield "foot-pulses", {}
    if foot.sensation in {"reduced", "absent"}:
        yield "foot-sensation", {}
    if wound.kind is Kind.DIABETIC_FOOT and "offloading" not in foot.teaching:
        yield "foot-offloading", {}


def _of_dressing(findings: Findings, wound: WoundEntry) -> _Found:
    applied = findings.dressing.applied.lower() if findings.dressing else ""
    if "compression" in applied:
        if findings.foot and findings.foot.pulses == "not felt":
            yield "compression", {"why": "no pulse was felt in the foot"}
        elif wound.kind is Kind.ARTERIAL:
            yield "compression", {"why": "the wound is recorded as an arterial ulcer"}
    if "packing" in applied or (applied and findings.tunnels):
        yield "packing", {}


def _of_drain(drain: Drain, earlier: Findings) -> _Found:
    if drain.output_ml is None:
        return
    if drain.kind in SUCKING and not drain.suction_restored:
        yield "drain-suction", {"label": drain.label}
    emptied = {each.label for each in earlier.drains or () if each.emptied_at}
    if drain.since is None and drain.label not in emptied:
        yield "drain-since", {"label": drain.label}
