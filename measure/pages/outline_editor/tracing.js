// The tool "Trace": a ring drawn in one go. It becomes the chosen wound's edge, a new wound, or a healed island.

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
      this: "Draw once round the wound. It replaces the line that is there.",
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
    const ring = simpler(this.line, 0.6).map((one) => view.within(view.toPhoto(one)));
    this.line = null;
    this.editor.place(untangled(ring));
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
