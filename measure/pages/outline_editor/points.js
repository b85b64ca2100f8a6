// Points that a finger can tell apart. Of a ring with many points only some are shown; dragging a shown point takes
// the hidden ones beside it along, less so the nearer they are to the next shown point.

const FEWEST = 6; // points of a ring however small it is on the screen

/** Numbers of the points to show: no two nearer than `spacing` along the ring, and `chosen` always. */
function shownPoints(ring, spacing, chosen = null) {
  const apart = Math.min(spacing, perimeterOf(ring) / FEWEST);
  const shown = [0];
  let since = 0, left = perimeterOf(ring);
  for (let i = 1; i < ring.length; i++) {
    const step = distance(ring[i - 1], ring[i]);
    since += step;
    left -= step;
    if (i === chosen || (since >= apart && left >= apart)) {
      shown.push(i);
      since = 0;
    }
  }
  return shown;
}

/** The shown neighbours of point i: [before, after]. */
function neighbours(shown, i) {
  const before = shown.filter((k) => k < i), after = shown.filter((k) => k > i);
  return [before.length ? before[before.length - 1] : shown[shown.length - 1], after.length ? after[0] : shown[0]];
}

/** How far each point goes along when point i is moved: 1 for itself, 0 from its shown neighbours on. */
function weightsOf(ring, shown, i) {
  const weights = new Map([[i, 1]]);
  const [before, after] = neighbours(shown, i);
  for (const [end, way] of [[before, -1], [after, 1]]) {
    const path = [i];
    for (let k = i; k !== end; path.push(k)) k = (k + way + ring.length) % ring.length;
    const steps = path.slice(1).map((k, n) => distance(ring[k], ring[path[n]]));
    const total = steps.reduce((sum, step) => sum + step, 0) || 1;
    let gone = 0;
    path.slice(1, -1).forEach((k, n) => {
      gone += steps[n];
      weights.set(k, 1 - gone / total);
    });
  }
  return weights;
}

function withMoved(ring, weights, d, within) {
  return ring.map((p, i) => (weights.has(i) ? within(moved(p, d, weights.get(i))) : p));
}

function withInserted(ring, edge, point) {
  return [...ring.slice(0, edge + 1), point, ...ring.slice(edge + 1)];
}

/** The ring without point i and the hidden ones beside it: a straight edge between its shown neighbours. */
function withRemoved(ring, shown, i) {
  const [before, after] = neighbours(shown, i);
  const gone = new Set();
  for (let k = (before + 1) % ring.length; k !== after; k = (k + 1) % ring.length) gone.add(k);
  return ring.filter((_, k) => !gone.has(k));
}

/** A ring with one stretch drawn anew: the path takes the place of what lies between its ends on the side it is nearer to. */
function withStretch(ring, path) {
  const a = nearestOnRing(ring, path[0]), b = nearestOnRing(ring, path[path.length - 1]);
  const there = arcBetween(ring, a, b), back = arcBetween(ring, b, a);
  const fresh = awayFrom(path, there) <= awayFrom(path, back)
    ? [...path, ...back.slice(1, -1)]
    : [...there.slice(1, -1), ...path.slice().reverse()];
  return untangled(fresh);
}

/** The part of a ring from one place on it onwards to another. */
function arcBetween(ring, a, b) {
  const from = ring[a.edge];
  if (a.edge === b.edge && distance(from, a.point) <= distance(from, b.point)) return [a.point, b.point];
  const arc = [a.point];
  let k = a.edge;
  do {
    k = (k + 1) % ring.length;
    arc.push(ring[k]);
  } while (k !== b.edge);
  return [...arc, b.point];
}

/** Mean distance of the points of an arc from a path. */
function awayFrom(path, arc) {
  const away = arc.map((p) => Math.min(...path.slice(1).map((end, i) => nearestOnEdge(p, path[i], end).distance)));
  return away.reduce((sum, one) => sum + one, 0) / away.length;
}

/** How far the ends of a line are apart where one of them may have gone past the other. */
function gapOf(line) {
  const ways = [line, line.slice().reverse()], quarter = lengthOf(line) / 4;
  return Math.min(...ways.map((way) => {
    const end = way[way.length - 1];
    let gone = 0, gap = Infinity;
    for (let i = 1; i < way.length && gone < quarter; i++) {
      gap = Math.min(gap, nearestOnEdge(end, way[i - 1], way[i]).distance);
      gone += distance(way[i - 1], way[i]);
    }
    return gap;
  }));
}

/** Whether a line from a ring back to it is a new ring: a bulge is as wide at its ends as elsewhere, or lies outside. */
function goesRound(ring, line) {
  const drawn = untangled(line), [left, top, right, bottom] = boxOf([ring]);
  if (gapOf(line) * lengthOf(line) >= areaOf(drawn)) return false;
  if (isInside(drawn, [(left + right) / 2, (top + bottom) / 2]) || shareWithin(ring, drawn) >= 0.5) return true;
  return shareWithin(drawn, ring) > 0.2;
}

const GRID = 24; // places across and down a ring's box

/** The share of a ring's area that lies within another ring, by counting places on a grid. */
function shareWithin(ring, other) {
  const [left, top, right, bottom] = boxOf([ring]);
  const at = (low, high, i) => low + ((high - low) * (i + 0.5)) / GRID;
  let all = 0, both = 0;
  for (let i = 0; i < GRID * GRID; i++) {
    const p = [at(left, right, i % GRID), at(top, bottom, Math.floor(i / GRID))];
    if (!isInside(ring, p)) continue;
    all += 1;
    both += isInside(other, p);
  }
  return all ? both / all : 0;
}
