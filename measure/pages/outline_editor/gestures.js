// Gestures: one finger or the mouse goes to the tool; two fingers zoom and move the photo and never edit.

class Gestures {
  constructor(editor, stage) {
    this.editor = editor;
    this.stage = stage;
    this.fingers = new Map();
    this.spent = false; // after a second finger, until all are lifted
    const on = (kind, act) => stage.addEventListener(kind, act);
    on("pointerdown", (event) => this.down(event));
    on("pointermove", (event) => this.move(event));
    on("pointerup", (event) => this.up(event));
    on("pointercancel", (event) => this.lost(event));
    on("pointerleave", () => this.hover(null));
    on("contextmenu", (event) => event.preventDefault());
    stage.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
  }

  place(event) {
    const box = this.stage.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  down(event) {
    event.preventDefault();
    this.stage.focus({ preventScroll: true });
    this.stage.classList.remove("keyed");
    this.stage.setPointerCapture(event.pointerId);
    const q = this.place(event), { editor } = this;
    editor.coarse = event.pointerType !== "mouse";
    editor.hush();
    this.fingers.set(event.pointerId, q);
    if (!editor.coarse || this.fingers.size > 1) editor.begun = true;
    this.tapping = editor.begun ? null : q;
    if (this.tapping) {
      this.spent = true;
    } else if (this.fingers.size > 1) {
      if (!this.spent) this.drop();
      this.spent = true;
    } else if (event.button > 0) {
      this.panning = q;
    } else if (editor.ready()) {
      editor.cursor = null;
      this.working = event.pointerId;
      editor.tool.down(q, editor.coarse);
      this.look(q);
    }
    editor.draw();
  }

  move(event) {
    const q = this.place(event), { editor } = this;
    if (!this.fingers.has(event.pointerId)) return this.hover(event.pointerType === "mouse" ? q : null);
    if (this.spent) this.pinch(event.pointerId, q);
    else if (this.panning) {
      editor.view.pan([q[0] - this.panning[0], q[1] - this.panning[1]]);
      this.panning = q;
    } else if (this.working === event.pointerId) {
      editor.tool.move(q);
      this.look(q);
    }
    this.fingers.set(event.pointerId, q);
    editor.draw();
  }

  /** Where the mouse is while nothing is pressed: the brush shows its size there. */
  hover(q) {
    this.editor.hover = q;
    this.editor.draw();
  }

  up(event) {
    if (!this.fingers.delete(event.pointerId)) return;
    if (this.tapping && distance(this.tapping, this.place(event)) < 12) this.editor.begun = true;
    this.tapping = null;
    if (this.working === event.pointerId) {
      this.working = null;
      this.editor.tool.up(this.place(event));
    }
    this.end();
  }

  lost(event) {
    if (!this.fingers.delete(event.pointerId)) return;
    this.tapping = null;
    this.drop();
    this.end();
  }

  end() {
    this.panning = null;
    if (!this.fingers.size) this.spent = false;
    this.editor.glass.hide();
    this.editor.draw();
  }

  /** Give up what the tool has begun. */
  drop() {
    if (this.working !== null && this.working !== undefined) this.editor.tool.cancel();
    this.working = null;
    this.editor.glass.hide();
  }

  pinch(id, q) {
    const [one, two] = [...this.fingers.keys()];
    if (two === undefined || (id !== one && id !== two)) return;
    const was = this.fingers.get(id), other = this.fingers.get(id === one ? two : one), { view } = this.editor;
    const before = between(was, other, 0.5), after = between(q, other, 0.5);
    const apart = distance(was, other);
    view.pan([after[0] - before[0], after[1] - before[1]]);
    if (apart > 1) view.zoomAt(after, distance(q, other) / apart);
  }

  look(q) {
    const { editor } = this, at = editor.coarse && editor.tool.focus(q);
    if (at) editor.magnify(at, q);
    else editor.glass.hide();
  }

  wheel(event) {
    event.preventDefault();
    this.editor.view.zoomAt(this.place(event), Math.exp(-event.deltaY * (event.ctrlKey ? 0.01 : 0.0015)));
    this.editor.draw();
  }
}
