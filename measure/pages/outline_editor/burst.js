// A burst of arrow keys: it moves the chosen point, or the whole wound, and is one step, sent when it ends.

const BURST_MS = 350;

class Burst {
  constructor(editor) {
    this.editor = editor;
    this.going = null;
    this.beside = (event) => event.composedPath().includes(editor.panel.overlay) || this.end();
    addEventListener("pointerdown", this.beside, true); // a button pressed next finds it sent
    editor.panel.overlay.addEventListener("blur", () => this.end());
  }

  destroy() {
    this.end();
    removeEventListener("pointerdown", this.beside, true);
  }

  /** Move by some pixels of the photo. */
  move(d) {
    const { editor } = this, { chosen, choice, history, view } = editor, { wounds } = history.now;
    const ring = ringAt(wounds, chosen);
    const moves = () => withMoved(ring, weightsOf(ring, editor.shown(chosen), chosen.point), d, (p) => view.within(p));
    const fresh = rounded(choice.whole
      ? withWound(wounds, chosen.wound, shifted(wounds[chosen.wound], d, view))
      : withRing(wounds, chosen, moves()));
    if (this.going) history.now = { ...history.now, wounds: fresh };
    else history.push({ ...history.now, wounds: fresh, edits: history.now.edits + 1 });
    clearTimeout(this.going);
    this.going = setTimeout(() => this.end(), BURST_MS);
    if (!choice.whole) view.reveal(ringAt(fresh, chosen)[chosen.point]);
  }

  end() {
    if (!this.going) return;
    clearTimeout(this.going);
    this.going = null;
    const { chosen, choice, wounds } = this.editor, p = choice.whole ? null : ringAt(wounds, chosen)[chosen.point];
    this.editor.send(p ? `Moved to ${this.editor.placeOf(p)}` : "Moved.");
  }
}
