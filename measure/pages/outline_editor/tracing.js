// The tool "Trace": a line drawn in one go. From line to line it replaces that stretch; a ring becomes the chosen
// wound's edge, a new wound, or a healed island.

class Tracing extends Freehand {
  constructor(editor) {
    super(editor);
    Object.assign(this, { name: "trace", word: "Trace", key: "4" });
  }

  get hint() {
    return {
      this: "Draw over a part that is wrong, from line to line, or once round the whole wound.",
      new: "Draw once round the wound, along its edge.",
      island: "Draw once round the healed island inside the wound.",
    }[this.editor.target];
  }

  up(q) {
    if (!this.line) return;
    this.move(q);
    const { view } = this.editor;
    const length = lengthOf(this.line), tolerance = Math.min(0.6 / view.scale, 0.0008 * length);
    const path = simpler(this.line, tolerance).map((one) => view.within(one)); // a round wound keeps some thirty points
    const tapped = length * view.scale < 6;
    const open = this.isOpen(this.line), wide = this.isWide(this.line), { changes } = this.editor;
    this.line = null;
    if (tapped && changes.chooseAt(path[0])) return;
    const stretch = (open || wide) && changes.stretchOf(path);
    if (stretch && (open || !goesRound(ringAt(this.editor.wounds, stretch), path))) changes.join(stretch, path);
    else if (open) this.editor.complain(this.advice);
    else changes.place(untangled(path));
  }

  get advice() {
    const part = this.editor.target === "this" ? "Begin and end on the line to correct a part; or draw" : "Draw";
    return `${part} all the way round.`;
  }

  /** Whether a line ends far from where it began. */
  isOpen(line) {
    return distance(line[0], line[line.length - 1]) > 0.3 * lengthOf(line);
  }

  /** Whether a line that comes back encloses more than a finger's tremble: 10 px on average. */
  isWide(line) {
    return 2 * areaOf(untangled(line)) * this.editor.view.scale >= 10 * lengthOf(line);
  }

  draw() {
    if (!this.line) return "";
    const line = this.line.map((p) => this.editor.view.toScreen(p));
    const path = pathOf(line), [first] = line, last = line[line.length - 1];
    return (
      `<path class="rim" d="${path}"/><path class="edge" d="${path}"/>` +
      `<path class="closing" d="${pathOf([last, first])}"/><circle class="start" cx="${first[0]}" cy="${first[1]}" r="9"/>`
    );
  }
}
