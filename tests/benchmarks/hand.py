"""A simulated hand that corrects proposed outlines until they agree with a reference.

It has the operations of the outline editor, each of which counts as one edit:

drag   a point to the reference's edge, or an edge, which adds a point there (`drag`);
sweep  the brush along the edge, at most a quarter of the wound's perimeter, to add or to remove, with one radius;
redraw a stretch: one stroke along the edge as long as that, from the drawn line to the drawn line (`stretch`);
remove a false wound or a hole;
trace  a wound that was missed anew, one stroke however long.

At each step it takes the operation that would gain most IoU if it were done exactly, and then does it with a jitter. An
outline that hardly has to do with the wound that it touches may be removed and the wound traced anew, which is weighed
by half its gain, for it takes two edits. The hand sees the whole photo and never hesitates: people need as many edits
or more.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.geometry import Polygon

from measure.outline import Outline, OutlineError, from_polygon, iou, polygon
from measure.overlap import mask_of
from measure.sweep import add_sweep, remove_sweep
from tests.benchmarks.drag import Run, runs
from tests.benchmarks.redraw import Redraws
from tests.benchmarks.reference import Points, Reference, signed_area
from tests.benchmarks.stretch import drawn_anew, reach_px
from tests.benchmarks.stroke import Stroke, Strokes

MOST_EDITS = 20
"""After which the hand gives up."""

JITTER = 0.01, 0.7
"""Standard deviation of where the hand puts a point: of the wound's equivalent diameter, and at least so many px of a
photo of 512."""

HOPELESS = 0.25
"""IoU of a wound with the outline that touches it, below which it may be traced anew."""

STRAYS_OVER = 0.16
"""Of the wound's equivalent diameter: how slowly a drawn line strays, as one swept with a middling brush does."""

_BRUSH_SIDE = 4096.0  # px of the photo on which the brush works: its limits for slips are meant for such
_TARGETS = 128  # points of the reference's edge to which the hand may drag
_NEAREST, _EVERY = 30, 3  # the nearest of them to each point, of which every third is tried
_TRIED_OF_POINT = 3
_LEAST_GAIN = 1e-4
_MOST_TRIED = 60  # moves that are tried until one leaves the outlines sound

Outlines = tuple[Outline, ...]


@dataclass(frozen=True)
class Replay:
    """IoU before any edit and after each, and the operations."""

    iou: tuple[float, ...]
    operations: tuple[str, ...]

    def edits_to(self, iou: float) -> float:
        """Return how many edits it took; infinity if it was not reached."""
        return next((float(count) for count, each in enumerate(self.iou) if each >= iou), float("inf"))


@dataclass(frozen=True, eq=False)
class _Move:
    """An operation: the IoU that it would reach, and what it needs."""

    iou: float
    operation: str
    wound: int = 0
    ring: int = 0  # 0 is the exterior, then the holes
    points: Points | None = None
    run: Run | None = None
    stroke: Stroke | None = None
    path: Points | None = None


def replay(  # noqa: PLR0913 - what is drawn, the truth, and how the hand is
    outlines: Sequence[Outline],
    reference: Reference,
    *,
    goal: float = 0.95,
    brush: bool = True,
    redraw: bool = True,
    jitter: tuple[float, float] = JITTER,
    seed: int = 1,
) -> Replay:
    """Correct outlines until they reach a goal.

    Parameters
    ----------
    outlines : sequence of Outline
        As proposed.
    reference : Reference
        What is true.
    goal : float
        IoU at which the hand stops.
    brush : bool
        Whether it may sweep.
    redraw : bool
        Whether it may redraw stretches; without both it drags, and does what no drag can do: remove a false wound,
        trace a missed one.
    jitter : tuple of float
        As `JITTER`.
    seed : int
        Of the jitter.
    """
    hand = _Hand(reference, jitter, np.random.default_rng((seed, 13)), brush=brush, redraw=redraw)
    now, made, done = tuple(outlines), [hand.iou(tuple(outlines))], []
    while made[-1] < goal and len(done) < MOST_EDITS:
        step = hand.step(now, made[-1])
        if step is None:
            break
        now, operation = step
        made.append(hand.iou(now))
        done.append(operation)
    return Replay(tuple(made), tuple(done))


class _Hand:
    def __init__(
        self,
        reference: Reference,
        jitter: tuple[float, float],
        random: np.random.Generator,
        *,
        brush: bool = True,
        redraw: bool = True,
    ) -> None:
        self.reference = reference
        self.brush, self.redraw = brush, redraw
        self.random = random
        self.height, self.width = reference.mask.shape
        self.sigma = max(jitter[0] * reference.diameter, jitter[1] * max(self.height, self.width) / 512)
        if jitter == (0.0, 0.0):
            self.sigma = 0.0
        self.targets = np.empty((0, 2))
        if reference.area:
            self.targets = reference.edge(max(reference.perimeter / _TARGETS, 0.7))
        self.nearest = cKDTree(self.targets) if len(self.targets) else None
        self.strokes, self.redraws = Strokes(reference), Redraws(reference)

    def iou(self, outlines: Outlines) -> float:
        """Return the IoU with the reference; 1 where both are empty."""
        return self._iou(*self._sums(outlines))

    def step(self, outlines: Outlines, before: float) -> tuple[Outlines, str] | None:
        """Do the best operation that can be done; None where none gains."""
        moves = [*self._removals(outlines), *self._traces(outlines), *self._drags(outlines)]
        moves += self._fresh_starts(outlines, before)
        if self.brush:
            moves += self._sweeps(outlines)
        if self.redraw:
            moves += self._redraws(outlines)
        useful = [move for move in moves if move.iou > before + _LEAST_GAIN or self._clears(move)]
        for move in sorted(useful, key=lambda move: -move.iou)[:_MOST_TRIED]:
            exact = self._done(outlines, move, 0.0)
            if exact is None or (move.operation != "remove" and self.iou(exact) < before + _LEAST_GAIN):
                continue
            after = self._done(outlines, move, self.sigma) if self.sigma else exact
            if after is not None:
                return after, move.operation
        return None

    def _clears(self, move: _Move) -> bool:
        """Tell whether a move takes away one of several false wounds where there is none: it helps in the end."""
        return not self.reference.area and move.operation == "remove"

    def _sums(self, outlines: Outlines) -> tuple[float, float]:
        """Return the pixels in common with the reference and the area of outlines."""
        return sum(map(self.reference.inside, outlines)), sum(polygon(outline).area for outline in outlines)

    def _iou(
        self, common: NDArray[np.float64] | float, area: NDArray[np.float64] | float
    ) -> NDArray[np.float64] | float:
        either = area + self.reference.area - common
        return common / either if np.ndim(either) or either > 0 else 1.0

    # What could be done

    def _removals(self, outlines: Outlines) -> Iterator[_Move]:
        common, area = self._sums(outlines)
        for number, outline in enumerate(outlines):
            less = self.reference.inside(outline), polygon(outline).area
            yield _Move(float(self._iou(common - less[0], area - less[1])), "remove", number)
            for hole, ring in enumerate(outline.holes, 1):
                more = self.reference.inside(Outline(ring)), Polygon(ring).area
                yield _Move(float(self._iou(common + more[0], area + more[1])), "remove", number, hole)

    def _traces(self, outlines: Outlines) -> Iterator[_Move]:
        common, area = self._sums(outlines)
        drawn = shapely.union_all([polygon(outline) for outline in outlines])
        for number, part in enumerate(self.reference.parts):
            if not part.intersects(drawn):
                yield _Move(float(self._iou(common + part.area, area + part.area)), "trace", number)

    def _fresh_starts(self, outlines: Outlines, before: float) -> Iterator[_Move]:
        """Yield removals of hopeless outlines, with half the gain that tracing the wound under them would bring."""
        common, area = self._sums(outlines)
        shapes = [polygon(outline) for outline in outlines]
        for part in self.reference.parts:
            touching = [number for number, shape in enumerate(shapes) if shape.intersects(part)]
            if len(touching) != 1 or iou(shapes[touching[0]], part) >= HOPELESS:
                continue
            less = self.reference.inside(outlines[touching[0]]), shapes[touching[0]].area
            reached = float(self._iou(common - less[0] + part.area, area - less[1] + part.area))
            yield _Move(before + (reached - before) / 2, "remove", touching[0])

    def _drags(self, outlines: Outlines) -> list[_Move]:
        """Return the best drags of points and edges of each ring."""
        if self.nearest is None:
            return []
        sums = self._sums(outlines)
        return [
            move
            for number, outline in enumerate(outlines)
            for ring, points in enumerate((outline.exterior, *outline.holes))
            for move in self._drags_of(number, ring, points, sums)
        ]

    def _drags_of(self, number: int, ring: int, points: Points, sums: tuple[float, float]) -> Iterator[_Move]:
        outward = np.sign(signed_area(points, np.roll(points, -1, axis=0)).sum()) * (1 if ring == 0 else -1)
        for operation, run in runs(points):
            _, near = self.nearest.query(run.grip, min(_NEAREST, len(self.targets)))
            targets = self.targets[np.atleast_1d(near)[::_EVERY]]
            moved = run.moved(targets)
            gains = [
                outward
                * (integral(moved[:, :-1], moved[:, 1:]).sum(axis=1) - integral(run.old[:-1], run.old[1:]).sum())
                for integral in (self.reference.along, signed_area)
            ]
            reached = self._iou(sums[0] + gains[0], sums[1] + gains[1])
            for target in np.argsort(-reached)[:_TRIED_OF_POINT]:
                yield _Move(float(reached[target]), operation, number, ring, targets[target], run=run)

    def _sweeps(self, outlines: Outlines) -> Iterator[_Move]:
        """Yield the best sweeps of the brush."""
        drawn = mask_of(outlines, self.width, self.height)
        common, area = self._sums(outlines)
        for stroke in self.strokes.best(drawn):
            more, less = (stroke.gain, 0.0) if stroke.adds else (0.0, stroke.gain)
            operation = "sweep to add" if stroke.adds else "sweep to remove"
            yield _Move(float(self._iou(common + more, area + more - less)), operation, stroke=stroke)

    def _redraws(self, outlines: Outlines) -> Iterator[_Move]:
        """Yield the best stretches to draw anew, weighed as they would be done exactly."""
        if not outlines:
            return
        common, area = self._sums(outlines)
        reach = reach_px(outlines, self.width, self.height)
        for number, outline in enumerate(outlines):
            for ring, sign in ((outline.exterior, 1), *((hole, -1) for hole in outline.holes)):
                paths = self.redraws.best(ring, sign, reach, lambda more, wider: self._iou(common + more, area + wider))
                for path in paths:
                    after = self._redrawn(outlines, number, path)
                    if after is not None:
                        yield _Move(float(self.iou(after)), "redraw", number, path=path)

    # Doing it

    def _done(self, outlines: Outlines, move: _Move, sigma: float) -> Outlines | None:
        """Return the outlines after an operation of a hand that strays so far; None where they would not be sound."""
        if move.operation == "remove":
            return self._removed(outlines, move)
        if move.operation == "trace":
            return self._traced(outlines, self.reference.parts[move.wound], sigma)
        if move.stroke is not None:
            return self._swept(outlines, move, sigma)
        if move.path is not None:
            path = self._shaken(move.path, sigma, smooth=STRAYS_OVER * self.reference.diameter)
            return self._redrawn(outlines, move.wound, path)
        return self._dragged(outlines, move, sigma)

    def _removed(self, outlines: Outlines, move: _Move) -> Outlines:
        outline = outlines[move.wound]
        if move.ring:
            holes = tuple(hole for number, hole in enumerate(outline.holes, 1) if number != move.ring)
            return _with(outlines, move.wound, replace(outline, holes=holes))
        return tuple(each for number, each in enumerate(outlines) if number != move.wound)

    def _traced(self, outlines: Outlines, part: Polygon, sigma: float) -> Outlines | None:
        wanted = part.simplify(max(sigma, 0.5))
        rings = [shapely.get_coordinates(ring)[:-1] for ring in (wanted.exterior, *wanted.interiors)]
        drawn = Polygon(self._shaken(rings[0], sigma), [self._shaken(ring, sigma) for ring in rings[1:]])
        drawn = drawn if drawn.is_valid else wanted
        apart = not any(drawn.intersects(polygon(outline)) for outline in outlines)
        return (*outlines, from_polygon(drawn)) if apart and drawn.area > 0 else None

    def _dragged(self, outlines: Outlines, move: _Move, sigma: float) -> Outlines | None:
        outline = outlines[move.wound]
        rings = [outline.exterior, *outline.holes]
        rings[move.ring] = move.run.put(rings[move.ring], self._shaken(move.points, sigma))
        return _sound(outlines, move.wound, rings)

    def _redrawn(self, outlines: Outlines, wound: int, path: Points) -> Outlines | None:
        within = np.clip(path, -0.5, np.array([self.width, self.height]) - 0.5)
        rings = drawn_anew(outlines[wound], within, reach_px(outlines, self.width, self.height))
        return None if rings is None else _sound(outlines, wound, rings)

    def _swept(self, outlines: Outlines, move: _Move, sigma: float) -> Outlines | None:
        sweep = add_sweep if move.stroke.adds else remove_sweep
        finer = max(_BRUSH_SIDE / max(self.width, self.height), 1.0)
        radius, line = move.stroke.radius, move.stroke.line
        line = _scaled(self._shaken(line, sigma, smooth=2 * radius), finer)
        frame = round(self.width * finer), round(self.height * finer)
        try:
            after = sweep([_resized(outline, finer) for outline in outlines], line, radius * finer, *frame)
        except OutlineError:
            return None
        return tuple(_resized(outline, 1 / finer) for outline in after)

    def _shaken(self, points: Points, sigma: float, smooth: float = 0.0) -> Points:
        """Return points as a hand places them; of a stroke it strays slowly, over ``smooth`` px."""
        if not smooth or len(points) < 2:
            return points + self.random.normal(0, sigma, points.shape)
        way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
        knots = np.linspace(0, way[-1], max(round(way[-1] / smooth), 1) + 1)
        strays = self.random.normal(0, sigma, (2, len(knots)))
        return points + np.column_stack([np.interp(way, knots, stray) for stray in strays])


def _sound(outlines: Outlines, number: int, rings: Sequence[Points]) -> Outlines | None:
    """Return the outlines with one wound's rings changed; None where it would cross itself or another wound."""
    after = Polygon(rings[0], rings[1:])
    others = [polygon(each) for other, each in enumerate(outlines) if other != number]
    if not after.is_valid or any(after.intersects(other) for other in others):
        return None
    return _with(outlines, number, Outline(rings[0], tuple(rings[1:])))


def _with(outlines: Outlines, number: int, changed: Outline) -> Outlines:
    return (*outlines[:number], changed, *outlines[number + 1 :])


def _scaled(points: Points, factor: float) -> Points:
    return (points + 0.5) * factor - 0.5


def _resized(outline: Outline, factor: float) -> Outline:
    return Outline(_scaled(outline.exterior, factor), tuple(_scaled(hole, factor) for hole in outline.holes))
