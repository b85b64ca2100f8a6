// What was drawn, step by step. A step is {wounds, edits}; steps are never changed once they are in.

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

/** Kept while the tab is open, so that undo still works after a visit to another page. */
const HISTORIES = (globalThis[Symbol.for("ebbline.histories")] ??= new Map());
