// What was drawn and said, step by step. A step is {wounds, edits, taps, control}: taps say what regions of tissue are,
// control is the place of the skin to compare with, or null; neither is an edit. Steps are never changed once they are in.

/** The step that Python holds. */
function stepOf({ wounds, edits, taps, control }) {
  return { wounds, edits, taps: taps ?? [], control: control ?? null };
}

class History {
  constructor(now) {
    this.now = now;
    this.past = [];
    this.next = [];
  }

  push(step) {
    this.past.push(this.now);
    this.now = step;
    this.next = [];
  }

  undo() {
    if (!this.past.length) return false;
    this.next.push(this.now);
    this.now = this.past.pop();
    return true;
  }

  redo() {
    if (!this.next.length) return false;
    this.past.push(this.now);
    this.now = this.next.pop();
    return true;
  }
}

/** By photo {history, seq, unsaved}: kept while the tab is open, so that a visit to another page loses no step. */
const KEPT = (globalThis[Symbol.for("ebbline.outlines")] ??= guarded(new Map()));

/** Let the browser ask before a tab is closed or loaded again while something in it is not saved. */
function guarded(kept) {
  addEventListener("beforeunload", (event) => {
    if ([...kept.values()].some((one) => one.unsaved)) event.preventDefault();
  });
  return kept;
}
