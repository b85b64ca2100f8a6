"""Draws undermining and tunnels on a clock, as plain SVG; what is drawn is said in words beside it."""

import math
from collections.abc import Sequence
from html import escape

from measure.findings.sizes import Tunnel, Undermining, twelve
from measure.record.entries import Site

_SIDE = 220.0
_CENTRE = _SIDE / 2
_WOUND = 52.0
_HOURS = 96.0
_REACH = 82.0
"""How far from the centre a hollow is drawn, however deep: a picture of where, not of how far."""

_STYLE = "display: block; width: 100%; max-width: 16rem; margin: 0 auto;"


def dial(undermining: Sequence[Undermining], tunnels: Sequence[Tunnel], site: Site) -> str:
    """Return a clock with the wound in the middle, hollows as wedges round it and tunnels as lines out of it."""
    said = [f"undermining {each}" for each in undermining] + [f"tunnel {each}" for each in tunnels]
    title = escape(f"{'; '.join(said)}. {twelve(site)}.")
    drawn = [_wedge(each) for each in undermining] + [_line(each) for each in tunnels]
    wound = f'<circle cx="{_CENTRE:g}" cy="{_CENTRE:g}" r="{_WOUND:g}" fill="none" stroke="currentColor" />'
    return (
        f'<svg role="img" aria-label="{title}" viewBox="0 0 {_SIDE:g} {_SIDE:g}" style="{_STYLE}">'
        f"{''.join(drawn)}{wound}{''.join(map(_hour, range(1, 13)))}{_end(site)}</svg>"
    )


def _end(site: Site) -> str:
    return (
        f'<text x="{_CENTRE:g}" y="{_CENTRE - _WOUND + 16:g}" text-anchor="middle" font-size="12" fill="currentColor">'
        f"{'heel' if site.on_foot else 'head'}</text>"
    )


def _hour(hour: int) -> str:
    x, y = _at(hour, _HOURS)
    return f'<text x="{x:.1f}" y="{y + 5:.1f}" text-anchor="middle" font-size="15" fill="currentColor">{hour}</text>'


def _wedge(found: Undermining) -> str:
    """Draw from half an hour before the first hour to half an hour after the last: each hour has some width."""
    if found.all_round:
        middle = (_WOUND + _REACH) / 2
        return (
            f'<circle class="undermining" cx="{_CENTRE:g}" cy="{_CENTRE:g}" r="{middle:g}" fill="none" '
            f'stroke="currentColor" stroke-opacity="0.35" stroke-width="{_REACH - _WOUND:g}" />'
        )
    first, last = found.start - 0.5, found.start + len(found.hours) - 0.5
    large = int(len(found.hours) > 6)
    ends = (_at(first, _WOUND), _at(first, _REACH), _at(last, _REACH), _at(last, _WOUND))
    inner_first, outer_first, outer_last, inner_last = (f"{x:.1f} {y:.1f}" for x, y in ends)
    path = (
        f"M{inner_first} L{outer_first} A{_REACH:g} {_REACH:g} 0 {large} 1 {outer_last} "
        f"L{inner_last} A{_WOUND:g} {_WOUND:g} 0 {large} 0 {inner_first} Z"
    )
    return f'<path class="undermining" d="{path}" fill="currentColor" fill-opacity="0.35" />'


def _line(found: Tunnel) -> str:
    (x, y), (far_x, far_y) = _at(found.clock, _WOUND), _at(found.clock, _REACH)
    return (
        f'<line class="tunnel" x1="{x:.1f}" y1="{y:.1f}" x2="{far_x:.1f}" y2="{far_y:.1f}" stroke="currentColor" '
        'stroke-width="5" stroke-linecap="round" />'
    )


def _at(hour: float, radius: float) -> tuple[float, float]:
    angle = math.radians(30 * hour)
    return _CENTRE + radius * math.sin(angle), _CENTRE - radius * math.cos(angle)
