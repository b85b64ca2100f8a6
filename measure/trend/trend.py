"""Whether a wound becomes smaller: what its series says, each number with its uncertainty, and never a verdict."""

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from measure.trend.change import SiteChange, area_change, parse_site_change, quantity_change, share_change
from measure.trend.course import Step, Trend
from measure.trend.decay import Decay, NoDecay, decay_of
from measure.trend.gaps import breaks, gaps
from measure.trend.linear_advance import Outlined, linear_advance
from measure.trend.reduction import reduction
from measure.trend.references import references
from measure.trend.report import trend_document, trend_summary
from measure.trend.series import Point, Series
from measure.trend.stalled import stalled

__all__ = ["Trend", "trend", "trend_document", "trend_summary"]


def trend(series: Series, *, sdc: SiteChange | Mapping[str, Any] | None = None) -> Trend:
    """Return what a series says.

    Parameters
    ----------
    series : Series
    sdc : SiteChange or mapping, optional
        The smallest detectable change of an area that the site found, also as the record's setting holds it; without it
        the budgets of each two areas tell.

    Raises
    ------
    SiteChangeError
        If the setting can't be used.
    """
    own = sdc if isinstance(sdc, SiteChange) else parse_site_change(sdc)
    first, last = series.baseline, series.latest
    compared = (first, last) if first and last else None
    since = tuple(point for point in series.current if first and point.at >= first.at)
    decay = decay_of(since)
    return Trend(
        series=series,
        percentage_area_reduction=reduction(compared[0].area, compared[1].area) if compared else None,
        linear_advance=linear_advance(*(_outlined(point) for point in compared)) if compared else None,
        change=area_change(compared[0].area, compared[1].area, own) if compared else None,
        exponential=decay if isinstance(decay, Decay) else None,
        no_exponential=decay.reason if isinstance(decay, NoDecay) else "",
        references=references(series.wound.kind),
        steps=tuple(_step(*both, own) for both in pairwise(series.points) if not both[0].healed),
        breaks=breaks(series.points),
        gaps=gaps(series),
        stalled=stalled(since, series.wound.kind),
    )


def _outlined(point: Point) -> Outlined:
    return Outlined(point.at, point.area, point.perimeter)


def _step(earlier: Point, later: Point, own: SiteChange | None) -> Step:
    alike = earlier.convention == later.convention
    tissue = {}
    if earlier.tissue and later.tissue:
        both = earlier.tissue.keys() & later.tissue.keys()
        tissue = {
            name: share_change(earlier.tissue[name], later.tissue[name]) for name in earlier.tissue if name in both
        }
    return Step(
        earlier,
        later,
        area_change(earlier.area, later.area, own),
        quantity_change(earlier.length_x_width, later.length_x_width) if alike else None,
        tissue,
    )
