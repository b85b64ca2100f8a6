// Shapes in photo pixels: points are [x, y], rings are lists of points, not closed.

const distance = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
const between = (a, b, t) => [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
const moved = (p, d, share = 1) => [p[0] + d[0] * share, p[1] + d[1] * share];

/** The place on the edge from a to b that is nearest to p. */
function nearestOnEdge(p, a, b) {
  const dx = b[0] - a[0], dy = b[1] - a[1];
  const length2 = dx * dx + dy * dy;
  const t = length2 ? Math.min(1, Math.max(0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length2)) : 0;
  const point = between(a, b, t);
  return { point, distance: distance(p, point) };
}

/** The place on a ring that is nearest to p, and the number of the edge it lies on. */
function nearestOnRing(ring, p) {
  let best = { distance: Infinity };
  ring.forEach((a, edge) => {
    const found = nearestOnEdge(p, a, ring[(edge + 1) % ring.length]);
    if (found.distance < best.distance) best = { ...found, edge };
  });
  return best;
}

/** Area by the shoelace formula, positive whichever way the ring turns. */
function areaOf(ring) {
  let sum = 0;
  ring.forEach((a, i) => {
    const b = ring[(i + 1) % ring.length];
    sum += a[0] * b[1] - b[0] * a[1];
  });
  return Math.abs(sum) / 2;
}

function lengthOf(line) {
  return line.slice(1).reduce((sum, end, i) => sum + distance(line[i], end), 0);
}

function perimeterOf(ring) {
  return ring.reduce((sum, a, i) => sum + distance(a, ring[(i + 1) % ring.length]), 0);
}

/** Whether p lies inside a ring, by the even-odd rule. */
function isInside(ring, p) {
  let inside = false;
  ring.forEach((a, i) => {
    const b = ring[(i + 1) % ring.length];
    if (a[1] > p[1] !== b[1] > p[1] && p[0] < a[0] + ((p[1] - a[1]) / (b[1] - a[1])) * (b[0] - a[0])) inside = !inside;
  });
  return inside;
}

/** The smallest box [left, top, right, bottom] round some rings. */
function boxOf(rings) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [x, y] of rings.flat()) {
    box[0] = Math.min(box[0], x);
    box[1] = Math.min(box[1], y);
    box[2] = Math.max(box[2], x);
    box[3] = Math.max(box[3], y);
  }
  return box;
}

const side = (a, b, p) => (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);

/** Where two edges cross inside both of them, or null. */
function crossingOf(a, b, c, d) {
  const one = side(a, b, c), two = side(a, b, d), three = side(c, d, a), four = side(c, d, b);
  if (one * two >= 0 || three * four >= 0) return null;
  return between(a, b, three / (three - four));
}

/** Where a ring crosses itself, or null. */
function selfCrossing(ring) {
  const n = ring.length;
  for (let i = 0; i < n - 2; i++) {
    for (let j = i + 2; j < n; j++) {
      if (i === 0 && j === n - 1) continue;
      const place = crossingOf(ring[i], ring[i + 1], ring[j], ring[(j + 1) % n]);
      if (place) return place;
    }
  }
  return null;
}

/** Where two rings cross each other, or null. */
function mutualCrossing(one, other) {
  for (let i = 0; i < one.length; i++) {
    for (let j = 0; j < other.length; j++) {
      const place = crossingOf(one[i], one[(i + 1) % one.length], other[j], other[(j + 1) % other.length]);
      if (place) return place;
    }
  }
  return null;
}

/** The line with the points left out that lie within a tolerance of the rest (Douglas and Peucker 1973). */
function simpler(line, tolerance) {
  if (line.length < 3) return line.slice();
  const kept = new Uint8Array(line.length);
  kept[0] = kept[line.length - 1] = 1;
  const waiting = [[0, line.length - 1]];
  while (waiting.length) {
    const [first, last] = waiting.pop();
    let far = -1, most = tolerance;
    for (let i = first + 1; i < last; i++) {
      const away = nearestOnEdge(line[i], line[first], line[last]).distance;
      if (away > most) {
        most = away;
        far = i;
      }
    }
    if (far > 0) {
      kept[far] = 1;
      waiting.push([first, far], [far, last]);
    }
  }
  return line.filter((_, i) => kept[i]);
}

/** A ring drawn by hand, its loops cut off: of two parts that meet at a crossing the larger one stays. */
function untangled(ring) {
  let rest = ring;
  for (let round = 0; round < 40; round++) {
    const cut = cutAtCrossing(rest);
    if (!cut) return rest;
    rest = cut;
  }
  return rest;
}

function cutAtCrossing(ring) {
  const n = ring.length;
  for (let i = 0; i < n - 2; i++) {
    for (let j = i + 2; j < n; j++) {
      if (i === 0 && j === n - 1) continue;
      const place = crossingOf(ring[i], ring[i + 1], ring[j], ring[(j + 1) % n]);
      if (!place) continue;
      const inner = [place, ...ring.slice(i + 1, j + 1)];
      const outer = [...ring.slice(0, i + 1), place, ...ring.slice(j + 1)];
      return areaOf(inner) > areaOf(outer) ? inner : outer;
    }
  }
  return null;
}
