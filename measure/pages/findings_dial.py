"""Draws undermining and tunnels on a clock, as a picture; what is drawn is said in words beside it."""

import math
from collections.abc import Sequence
from html import escape
from urllib.parse import quote

from measure.findings.sizes import Tunnel, Undermining, twelve
from measure.record.entries import Site

_SIDE = 220.0
_CENTRE = _SIDE / 2
_WOUND = 52.0
_HOURS = 96.0
_REACH = 82.0
"""How far from the centre a hollow is drawn, however deep: a picture of where, not of how far."""

_INK = "#6b7683"
"""Reads on white and on black, 4 to 1 and more: a picture doesn't know the theme."""

_STYLE = "display: block; width: 100%; max-width: 16rem; margin: 0 auto;"


def dial(undermining: Sequence[Undermining], tunnels: Sequence[Tunnel], site: Site) -> str:
    """Return HTML of a clock: the wound in the middle, hollows as wedges round it, tunnels as lines out of it."""
    said = [f"undermining {each}" for each in undermining] + [f"tunnel {each}" for each in tunnels]
    title = escape(f"{'; '.join(said)}. {twelve(site)}.")
    drawn = [_wedge(each) for each in undermining] + [_line(each) for each in tunnels]
    wound = f'<circle cx="{_CENTRE:g}" cy="{_CENTRE:g}" r="{_WOUND:g}" fill="none" stroke="{_INK}" />'
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" font-family="sans-serif" viewBox="0 0 {_SIDE:g} {_SIDE:g}">'
        f"{''.join(drawn)}{wound}{''.join(map(_hour, range(1, 13)))}{_end(site)}</svg>"
    )
    return f'<img alt="{title}" style="{_STYLE}" src="data:image/svg+xml,{quote(svg)}">'


def _end(site: Site) -> str:
    return (
        f'<text x="{_CENTRE:g}" y="{_CENTRE - _WOUND + 16:g}" text-anchor="middle" font-size="12" fill="{_INK}">'
        f"{'heel' if site.on_foot else 'head'}</text>"
    )


def _hour(hour: int) -> str:
    x, y = _at(hour, _HOURS)
    return f'<text x="{x:.1f}" y="{y + 5:.1f}" text-anchor="middle" font-size="15" fill="{_INK}">{hour}</text>'


def _wedge(found: Undermining) -> str:
    """Draw from half an hour before the first hour to half an hour after the last: each hour has some width."""
    if found.all_round:
        middle = (_WOUND + _REACH) / 2
        return (
            f'<circle class="undermining" cx="{_CENTRE:g}" cy="{_CENTRE:g}" r="{middle:g}" fill="none" '
            f'stroke="{_INK}" stroke-opacity="0.35" stroke-width="{_REACH - _WOUND:g}" />'
        )
    first, last = found.start - 0.5, found.start + len(found.hours) - 0.5
    large = int(len(found.hours) > 6)
    ends = (_at(first, _WOUND), _at(first, _REACH), _at(last, _REACH), _at(last, _WOUND))
    inner_first, outer_first, outer_last, inner_last = (f"{x:.1f} {y:.1f}" for x, y in ends)
    path = (
        f"M{inner_first} L{outer_first} A{_REACH:g} {_REACH:g} 0 {large} 1 {outer_last} "
        f"L{inner_last} A{_WOUND:g} {_WOUND:g} 0 {large} 0 {inner_first} Z"
    )
    return f'<path class="undermining" d="{path}" fill="{_INK}" fill-opacity="0.35" />'


def _line(found: Tunnel) -> str:
    (x, y), (far_x, far_y) = _at(found.clock, _WOUND), _at(found.clock, _REACH)
    return (
        f'<line class="tunnel" x1="{x:.1f}" y1="{y:.1f}" x2="{far_x:.1f}" y2="{far_y:.1f}" stroke="{_INK}" '
        'stroke-width="5" stroke-linecap="round" />'
    )


def _at(hour: float, radius: float) -> tuple[float, float]:
    angle = math.radians(30 * hour)
    return _CENTRE + radius * math.sin(angle), _CENTRE - radius * math.cos(angle)
