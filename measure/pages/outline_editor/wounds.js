// Wounds: lists of {outline, holes}, never changed but copied. A place {wound, ring} names a ring: 0 is the outline,
// from 1 on the holes.

function placesIn(wounds) {
  return wounds.flatMap((wound, i) => [wound.outline, ...wound.holes].map((_, ring) => ({ wound: i, ring })));
}

function ringAt(wounds, { wound, ring }) {
  return ring ? wounds[wound].holes[ring - 1] : wounds[wound].outline;
}

function withWound(wounds, number, wound) {
  return wounds.map((one, i) => (i === number ? wound : one));
}

function withRing(wounds, { wound, ring }, points) {
  const one = wounds[wound];
  const holes = one.holes.map((hole, i) => (i === ring - 1 ? points : hole));
  return withWound(wounds, wound, ring ? { ...one, holes } : { ...one, outline: points });
}

function withIsland(wounds, number, ring) {
  return withWound(wounds, number, { ...wounds[number], holes: [...wounds[number].holes, ring] });
}

function withoutIsland(wounds, { wound, ring }) {
  return withWound(wounds, wound, { ...wounds[wound], holes: wounds[wound].holes.filter((_, i) => i !== ring - 1) });
}

/** Wounds with coordinates to hundredths of a pixel, as files keep them: what is measured is what is saved. */
function rounded(wounds) {
  const round = (ring) => ring.map((p) => p.map((x) => Math.round(x * 100) / 100));
  return wounds.map(({ outline, holes }) => ({ outline: round(outline), holes: holes.map(round) }));
}

/** A wound moved as a whole, just so far that it stays in the photo. */
function shifted(wound, d, view) {
  const [left, top, right, bottom] = boxOf([wound.outline]);
  const low = view.within([left + d[0], top + d[1]]), high = view.within([right + d[0], bottom + d[1]]);
  const step = [0, 1].map((axis) => {
    const room = [low[axis] - [left, top][axis], high[axis] - [right, bottom][axis]];
    return d[axis] < 0 ? Math.max(...room) : Math.min(...room);
  });
  const shift = (ring) => ring.map((p) => moved(p, step));
  return { outline: shift(wound.outline), holes: wound.holes.map(shift) };
}

/** The first crossing in these wounds: where it is and what crosses; null where there is none. */
function crossingIn(wounds) {
  for (const { outline, holes } of wounds) {
    for (const ring of [outline, ...holes]) {
      const place = selfCrossing(ring);
      if (place) return { place, words: "The line crosses itself at the cross." };
    }
    for (const [i, hole] of holes.entries()) {
      const place = mutualCrossing(outline, hole);
      if (place) return { place, words: "A healed island reaches over the wound's line at the cross." };
      for (const other of holes.slice(i + 1)) {
        const meeting = mutualCrossing(hole, other);
        if (meeting) return { place: meeting, words: "Two healed islands overlap at the cross." };
      }
    }
  }
  return null;
}

/** Where two wounds overlap, as `crossingIn` tells it. */
function overlapOf(wounds) {
  for (let i = 0; i < wounds.length; i++) {
    for (let j = i + 1; j < wounds.length; j++) {
      const place = mutualCrossing(wounds[i].outline, wounds[j].outline);
      if (place) return { place, words: `Wounds ${i + 1} and ${j + 1} overlap at the cross.` };
    }
  }
  return null;
}
