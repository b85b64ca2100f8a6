// Regions of tissue: {wound, tissue, rings, byHand}; the first ring is the outer one, the others are holes. A tap
// {at, tissue} says what the region is that holds a place.

const SPOTS = 16; // places across and down a region's box, when one well inside it is looked for

/** Whether a place lies in a region, by the even-odd rule over its rings. */
function holds({ rings }, p) {
  return rings.reduce((inside, ring) => inside !== isInside(ring, p), false);
}

function areaOfRegion({ rings }) {
  return rings.reduce((area, ring, i) => area + (i ? -areaOf(ring) : areaOf(ring)), 0);
}

/** How far a place is from a region's edges. */
function edgeAway({ rings }, p) {
  return Math.min(...rings.map((ring) => nearestOnRing(ring, p).distance));
}

/** The number of the region that a finger at p means, or -1: the smallest that holds it, or a small one beside it. */
function regionAt(regions, p, reach) {
  const within = regions.map((region, i) => i).filter((i) => holds(regions[i], p) || isBeside(regions[i], p, reach));
  return within.reduce((best, i) => (best < 0 || areaOfRegion(regions[i]) < areaOfRegion(regions[best]) ? i : best), -1);
}

/** Whether a region is smaller than a fingertip, and p so near that the finger covers it. */
function isBeside(region, p, reach) {
  const [left, top, right, bottom] = boxOf([region.rings[0]]);
  if (Math.max(right - left, bottom - top) > 2 * reach) return false;
  return edgeAway(region, p) < reach / 2;
}

/** A place well inside a region: of many in its box the one farthest from its edges. */
function placeInside(region) {
  const [left, top, right, bottom] = boxOf([region.rings[0]]);
  let best = region.rings[0][0], most = -1;
  for (let i = 0; i < SPOTS * SPOTS; i++) {
    const across = ((i % SPOTS) + 0.5) / SPOTS, down = (Math.floor(i / SPOTS) + 0.5) / SPOTS;
    const p = [left + (right - left) * across, top + (bottom - top) * down];
    const away = holds(region, p) ? edgeAway(region, p) : -1;
    if (away > most) [best, most] = [p, away];
  }
  return best;
}

/** Regions with what was said of them: the last tap in a region counts. */
function asSaid(regions, taps) {
  return regions.map((region) => {
    const said = taps.filter(({ at }) => holds(region, at));
    return said.length ? { ...region, tissue: said[said.length - 1].tissue, byHand: true } : region;
  });
}

/** The taps, with one more for a region in the place of those that it had. */
function withTap(taps, region, at, tissue) {
  const round = at.map((x) => Math.round(x * 100) / 100);
  return [...taps.filter((tap) => !holds(region, tap.at)), { at: round, tissue }];
}
