// The tool "Trace": a line drawn in one go. From line to line it replaces that stretch; a ring becomes the chosen
// wound's edge, a new wound, or a healed island.

class Tracing {
  constructor(editor) {
    this.editor = editor;
    this.name = "trace";
    this.word = "Trace";
    this.key = "4";
    this.line = null;
  }

  get hint() {
    return {
      this: "Draw over a part that is wrong, from line to line, or once round the whole wound.",
      new: "Draw once round the wound, along its edge.",
      island: "Draw once round the island of healed skin inside the wound.",
    }[this.editor.target];
  }

  down(q) {
    this.line = [q];
  }

  move(q) {
    if (this.line && distance(q, this.line[this.line.length - 1]) >= 2) this.line.push(q);
  }

  up(q) {
    if (!this.line) return;
    this.move(q);
    const { view } = this.editor;
    const path = simpler(this.line, 0.6).map((one) => view.within(view.toPhoto(one)));
    const stretch = this.isOpen(this.line) && this.editor.changes.stretchOf(path);
    this.line = null;
    if (stretch) this.editor.changes.join(stretch, path);
    else this.editor.changes.place(untangled(path));
  }

  /** Whether a line ends far from where it began. */
  isOpen(line) {
    const length = line.slice(1).reduce((sum, end, i) => sum + distance(line[i], end), 0);
    return distance(line[0], line[line.length - 1]) > 0.3 * length;
  }

  cancel() {
    this.line = null;
  }

  focus(q) {
    return this.line && this.editor.view.toPhoto(q);
  }

  draw() {
    if (!this.line) return "";
    const path = pathOf(this.line), [first] = this.line, last = this.line[this.line.length - 1];
    return (
      `<path class="rim" d="${path}"/><path class="edge" d="${path}"/>` +
      `<path class="closing" d="${pathOf([last, first])}"/><circle class="start" cx="${first[0]}" cy="${first[1]}" r="9"/>`
    );
  }
}
