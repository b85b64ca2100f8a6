// The keyboard: points by N, P and the arrows; for the other tools a cursor that the arrows move and Enter presses.

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const STEP = 8; // of the cursor on the screen, in px; five times that with Shift

class Keyboard {
  constructor(editor, root, stage) {
    this.editor = editor;
    this.pressing = false;
    root.addEventListener("keyup", () => stage.classList.add("keyed")); // a ring shows where the keys go
    root.addEventListener("keydown", (event) => {
      const onStage = root.activeElement === stage || event.composedPath().includes(stage);
      if (this.everywhere(event) || (onStage && this.onStage(event))) event.preventDefault();
      if (event.key !== "Tab") event.stopPropagation(); // letters would reach the page, which has keys of its own
    });
    stage.addEventListener("blur", () => this.lift());
  }

  everywhere(event) {
    if (!(event.ctrlKey || event.metaKey)) return false;
    const key = event.key.toLowerCase();
    if (key === "z" && !event.shiftKey) this.editor.undo();
    else if (key === "y" || key === "z") this.editor.redo();
    else return false;
    return true;
  }

  onStage(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return false;
    const act = this.acts()[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (ARROWS[event.key]) this.arrow(ARROWS[event.key], event.shiftKey);
    else if (act) act();
    else return false;
    this.editor.draw();
    return true;
  }

  acts() {
    const { editor } = this;
    const tools = Object.fromEntries(editor.tools.filter((tool) => !tool.absent).map((tool) => [tool.key, () => this.tool(tool.name)]));
    return {
      ...tools,
      n: () => editor.step(1),
      p: () => editor.step(-1),
      i: () => editor.changes.insertPoint(),
      w: () => editor.nextWound(),
      m: () => editor.toggleWhole(),
      Delete: () => editor.changes.deletePoint(),
      Backspace: () => editor.changes.deletePoint(),
      "+": () => editor.zoom(1.5),
      "=": () => editor.zoom(1.5),
      "-": () => editor.zoom(1 / 1.5),
      0: () => editor.whole(),
      c: () => editor.tool.close?.(),
      j: () => editor.tool.join?.(),
      Enter: () => this.press(),
      " ": () => this.press(),
      Escape: () => this.lift() || editor.stop(),
    };
  }

  tool(name) {
    this.lift();
    this.editor.use(name);
  }

  arrow(way, far) {
    const { editor } = this;
    if (editor.tool.name === "drag") {
      const step = far ? 10 : 1;
      editor.nudge([way[0] * step, way[1] * step]);
      return;
    }
    if (this.choosing) return editor.step(way[0] + way[1]);
    const step = (far ? 5 * STEP : STEP) / editor.view.scale;
    const at = editor.cursor ?? editor.view.toPhoto([editor.view.stage[0] / 2, editor.view.stage[1] / 2]);
    editor.cursor = editor.view.within(moved(at, way, step));
    editor.view.reveal(editor.cursor);
    if (this.pressing) editor.tool.move(editor.view.toScreen(editor.cursor));
    editor.say(editor.placeOf(editor.cursor));
  }

  /** Whether the keys go from region to region. */
  get choosing() {
    return this.editor.tool.name === "tissue" && !this.editor.tool.skin;
  }

  press() {
    const { editor } = this;
    if (editor.tool.name === "drag") {
      editor.step(1);
      return;
    }
    if (this.choosing) return editor.tool.enter();
    editor.cursor ??= editor.view.toPhoto([editor.view.stage[0] / 2, editor.view.stage[1] / 2]);
    const q = editor.view.toScreen(editor.cursor);
    if (this.pressing || editor.tool.name === "follow" || editor.tool.skin) {
      if (!this.pressing && !editor.ready()) return;
      if (!this.pressing) editor.tool.down(q, false);
      this.pressing = false;
      editor.tool.up(q);
    } else if (editor.ready()) {
      this.pressing = true;
      editor.tool.down(q, false);
      editor.say("Drawing. Move with the arrows; Enter ends, Escape gives up.");
    }
  }

  lift() {
    if (!this.pressing) return false;
    this.pressing = false;
    this.editor.tool.cancel();
    this.editor.say("Given up.");
    this.editor.draw();
    return true;
  }
}
