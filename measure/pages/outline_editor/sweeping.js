// The tools "Add" and "Remove": a sweep of the finger, of a width that can be chosen, adds area or takes it away.

const SIZES = { small: 10, medium: 20, large: 36 }; // radius on the screen, in px

class Sweeping extends Freehand {
  constructor(editor, name, word, key) {
    super(editor);
    Object.assign(this, { name, word, key });
  }

  get hint() {
    return this.name === "add"
      ? "Rub over what belongs to the wound."
      : "Rub over what does not belong to the wound: at its edge, or a healed island in it.";
  }

  get radius() {
    return SIZES[this.editor.choice.size];
  }

  up(q) {
    if (!this.line) return;
    this.move(q);
    const { editor } = this;
    const stroke = simpler(this.line, 0.7 / editor.view.scale).map((one) => editor.view.within(one));
    const radius = this.radius / editor.view.scale, { now } = editor.history;
    editor.ask(
      { ...now, kind: this.name, wounds: editor.wounds, stroke, radius, edits: now.edits + 1 },
      (reply) => {
        this.line = null;
        if (reply.wounds) editor.changes.swept(reply.wounds, this.name === "add" ? "Area added." : "Area removed.");
      },
    );
  }

  draw() {
    const { radius, editor } = this, line = this.line?.map((p) => editor.view.toScreen(p));
    const at = line ? line[line.length - 1] : editor.cursor ? editor.view.toScreen(editor.cursor) : editor.hover;
    if (!at) return "";
    const sweep = line ? `<path class="sweep ${this.name}" stroke-width="${2 * radius}" d="${pathOf(line)}"/>` : "";
    const sign = this.name === "add" ? "M-7 0H7M0-7V7" : "M-7 0H7";
    return (
      sweep +
      `<g transform="translate(${at})"><circle class="rim" r="${radius}"/><circle class="brush" r="${radius}"/>` +
      `<path class="rim" d="${sign}"/><path class="brush" d="${sign}"/></g>`
    );
  }
}
