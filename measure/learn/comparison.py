"""How methods do on the photographs that were held out, side by side."""

import math
from collections.abc import Sequence
from dataclasses import asdict

from measure.learn.examples import Example
from measure.overlap import Scores, compare, mask_of, scores
from measure.proposal import propose_outlines


def tried(method: str, examples: Sequence[Example]) -> Scores:
    """Return how a method does on photographs."""
    overlaps = []
    for example in examples:
        height, width = example.mask.shape
        proposal = propose_outlines(example.photo, method=method)
        overlaps.append(compare(mask_of(proposal.outlines, width, height), example.mask))
    return scores(overlaps)


def table(new: Scores, present: Scores) -> str:
    """Lay two methods side by side, in words."""
    rows = (
        ("overlap of all pixels together (pooled Dice)", *(f"{each.pooled_dice:.3f}" for each in (new, present))),
        ("overlap a photo, mean (Dice)", *(f"{each.mean_dice:.3f}" for each in (new, present))),
        ("overlap a photo, median (Dice)", *(f"{each.median_dice:.3f}" for each in (new, present))),
        ("distance of the edges, median, px", *(f"{each.distance_px:.1f}" for each in (new, present))),
        ("wounds missed", *(f"{each.missed} of {each.wounds}" for each in (new, present))),
        ("areas proposed that are no wound", *(str(each.extra) for each in (new, present))),
        ("'no wound' where there is none", *(f"{each.empty_answered} of {each.empty}" for each in (new, present))),
    )
    head = ("", "new", "present")
    return "\n".join(f"{what:<46}{first:>12}{second:>12}" for what, first, second in (head, *rows))


def figures(of: Scores) -> dict[str, float | None]:
    """Give scores the form of JSON: what is not known is null."""
    return {name: value if math.isfinite(value) else None for name, value in asdict(of).items()}
