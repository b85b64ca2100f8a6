// The drawing over the photo: lines of length and width, rings, points, and what the tool has in hand.

const pathOf = (line) => `M${line.map((p) => `${p[0].toFixed(1)} ${p[1].toFixed(1)}`).join("L")}`;

/** Everything that is drawn, as SVG in screen coordinates. */
function drawingOf(editor) {
  return (
    (editor.tool.under ? editor.tool.under() : "") +
    (editor.current && !editor.redrawing && editor.tool.name !== "tissue" ? editor.data.lines.map((one) => extent(editor, one)).join("") : "") +
    placesIn(editor.wounds).map((place) => ring(editor, place)).join("") +
    (editor.wounds.length > 1 ? editor.wounds.map((wound, i) => number(editor, wound, i)).join("") : "") +
    (editor.tool.name === "drag" ? points(editor) : "") +
    (editor.tool.draw ? editor.tool.draw() : "") +
    (editor.data.tissue?.swabs ?? []).map((one) => circle(editor.view, one, "Swab")).join("") +
    (editor.crossing ? cross(editor.view.toScreen(editor.crossing.place)) : "") +
    (editor.cursor && editor.tool.name !== "drag" && (editor.tool.name !== "tissue" || editor.tool.skin) ? hair(editor.view.toScreen(editor.cursor)) : "")
  );
}

function ring(editor, place) {
  const path = `${pathOf(ringAt(editor.wounds, place).map((p) => editor.view.toScreen(p)))}Z`;
  const kind = `${place.wound === editor.chosen.wound && !editor.redrawing ? "" : "other"} ${place.ring ? "island" : ""}`;
  if (editor.tool.name === "tissue") return `<path class="rim thin" d="${path}"/><path class="edge thin" d="${path}"/>`;
  return `<path class="rim" d="${path}"/><path class="edge ${kind}" d="${path}"/>`;
}

function number(editor, wound, i) {
  const [left, top, right] = boxOf([wound.outline]);
  const [x, y] = editor.view.toScreen([(left + right) / 2, top]);
  return label(x, y - 12, String(i + 1));
}

function extent(editor, { ends, name }) {
  const [a, b] = ends.map((p) => editor.view.toScreen(p)), path = pathOf([a, b]);
  const far = between(a, b, 1 + 14 / Math.max(1, distance(a, b)));
  return `<path class="rim" d="${path}"/><path class="extent" d="${path}"/>${label(far[0], far[1] + 6, name)}`;
}

function label(x, y, text) {
  return `<text class="label" x="${x}" y="${y}">${text}</text>`;
}

function points(editor) {
  const { wound, ring: chosenRing, point } = editor.chosen;
  return placesIn(editor.wounds).filter((place) => place.wound === wound).map((place) => {
    const ring = ringAt(editor.wounds, place), gap = (perimeterOf(ring) * editor.view.scale) / FEWEST;
    const radius = Math.min(editor.coarse ? 8 : 6, 0.4 * gap);
    return editor.shown(place).map((i) => {
      const [x, y] = editor.view.toScreen(ring[i]);
      const chosen = place.ring === chosenRing && i === point;
      return chosen
        ? `<path class="point chosen" d="M${x} ${y - 13}L${x + 13} ${y}L${x} ${y + 13}L${x - 13} ${y}Z"/>`
        : `<circle class="point" cx="${x}" cy="${y}" r="${radius}"/>`;
    }).join("");
  }).join("");
}

function cross([x, y]) {
  const arms = "M-8 -8L8 8M8 -8L-8 8";
  return `<g class="crossing" transform="translate(${x},${y})"><circle r="18"/><path class="rim" d="${arms}"/><path d="${arms}"/></g>`;
}

function hair([x, y]) {
  const arms = "M-22 0H-5M5 0H22M0 -22V-5M0 5V22";
  return `<g transform="translate(${x},${y})"><path class="rim" d="${arms}"/><path class="extent" d="${arms}"/></g>`;
}
