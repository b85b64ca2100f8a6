"""What a probe finds and a photo can't show: depth, undermining and tunnels, told on the clock.

The clock lies on the wound as on a wall: 12 o'clock is towards the person's head, on the foot towards the heel (common
practice).
"""

from collections.abc import Sequence
from dataclasses import dataclass

from measure.findings.form import FindingError, above_zero, answer, number, whole
from measure.record.entries import Site

MAX_CM = 30.0
"""Of depth, undermining and tunnels: a swab or probe is about 15 cm long (common practice), and what is more than twice
that was typed in mm, or without its point."""

_HOURS = 12
_DEG_PER_HOUR = 30.0


def depth_cm(value: object) -> float:
    """Return the greatest depth of a wound in cm; 0 where it lies level with the skin.

    Raises
    ------
    FindingError
        If it is no number from 0 to `MAX_CM`.
    """
    return number(value, "The depth", 0, MAX_CM, "cm")


@dataclass(frozen=True)
class Undermining:
    """A hollow under the edge.

    Attributes
    ----------
    start, end : int
        Hours of the clock, 1 to 12, clockwise; from 11 to 2 it runs over 12. The same hour twice is that hour alone.
    depth_cm : float
        Where it is deepest, in cm from the edge.
    all_round : bool
        Whether it goes all the way round; then both hours are the same, where it is deepest.

    Raises
    ------
    FindingError
        If an hour or the depth is impossible, or it goes all round between two hours.
    """

    start: int
    end: int
    depth_cm: float
    all_round: bool = False

    def __post_init__(self) -> None:
        """Refuse what can't be recorded."""
        whole(self.start, "The hour at which undermining starts", 1, _HOURS)
        whole(self.end, "The hour at which undermining ends", 1, _HOURS)
        object.__setattr__(self, "depth_cm", above_zero(self.depth_cm, "The depth of undermining", MAX_CM, "cm"))
        object.__setattr__(self, "all_round", bool(answer(self.all_round, "Whether undermining goes all round")))
        if self.all_round and self.start != self.end:
            raise FindingError(
                f"Undermining goes all round, and from {self.start} to {self.end} o'clock: give one hour, where it is "
                "deepest, or take 'all round' away."
            )

    @property
    def hours(self) -> tuple[int, ...]:
        """Return the hours that it covers, clockwise."""
        steps = _HOURS - 1 if self.all_round else (self.end - self.start) % _HOURS
        return tuple((self.start + step - 1) % _HOURS + 1 for step in range(steps + 1))

    @property
    def arc_deg(self) -> float:
        """Return the angle from its first hour to its last: 0 at one hour, 360 all round."""
        return 360.0 if self.all_round else _DEG_PER_HOUR * (len(self.hours) - 1)

    def __str__(self) -> str:
        """Say it as charts do: 11 to 2 o'clock, deepest 1.5 cm."""
        if self.all_round:
            return f"all round, deepest {self.depth_cm:g} cm at {self.start} o'clock"
        if self.start == self.end:
            return f"at {self.start} o'clock, {self.depth_cm:g} cm"
        return f"{self.start} to {self.end} o'clock, deepest {self.depth_cm:g} cm"


@dataclass(frozen=True)
class Tunnel:
    """A narrow way into the tissue: its hour on the clock, 1 to 12, and its length in cm.

    Raises
    ------
    FindingError
        If the hour or the length is impossible.
    """

    clock: int
    length_cm: float

    def __post_init__(self) -> None:
        """Refuse what can't be recorded."""
        whole(self.clock, "The hour of a tunnel", 1, _HOURS)
        object.__setattr__(self, "length_cm", above_zero(self.length_cm, "The length of a tunnel", MAX_CM, "cm"))

    def __str__(self) -> str:
        """Say it as charts do: at 4 o'clock, 2 cm."""
        return f"at {self.clock} o'clock, {self.length_cm:g} cm"


def twelve(site: Site) -> str:
    """Say where the clock of a wound begins."""
    return "12 o'clock is towards the heel" if site.on_foot else "12 o'clock is towards the head"


def on_the_clock(found: Sequence[Undermining | Tunnel], site: Site) -> str:
    """Return undermining or tunnels as text, and on the foot where 12 o'clock is."""
    if not found:
        return "none"
    told = "; ".join(map(str, found))
    return f"{told} ({twelve(site)})" if site.on_foot else told
