// The tool "Tap round": tap after tap along the edge; between two taps the line finds the wound's edge by itself.

class Following {
  constructor(editor) {
    this.editor = editor;
    this.name = "follow";
    this.word = "Tap round";
    this.key = "5";
    this.target = "this"; // what the taps go round
    this.clear();
  }

  clear() {
    this.taps = [];
    this.paths = []; // paths[i] leads from tap i to the next, the last one back to the first
    this.closing = false;
    this.pressed = null;
  }

  /** Taps may come faster than answers: they wait in a row. */
  get patient() {
    return true;
  }

  get hint() {
    if (!this.taps.length) return "Tap a place on the wound's edge.";
    if (this.joinable) return "Tap on along the edge; or 'Join the line', if only this part was wrong.";
    if (this.taps.length < 3) return "Tap the next place along the edge; the line finds its way between.";
    return "Go on along the edge. To end, tap the first point again or 'Close the line'.";
  }

  down(q) {
    this.pressed = q;
  }

  move(q) {
    if (this.pressed) this.pressed = q;
  }

  up(q) {
    if (!this.pressed) return;
    this.pressed = null;
    const { view } = this.editor, p = view.within(view.toPhoto(q));
    const [first] = this.taps, last = this.taps[this.taps.length - 1];
    if (this.closing) return;
    if (this.taps.length > 2 && distance(view.toScreen(first), q) < 24) this.close();
    else if (!last || distance(view.toScreen(last), q) > 6) {
      if (!last) this.target = this.editor.target;
      this.taps.push(p);
      this.editor.say(`Point ${this.taps.length}.`);
      this.go();
    }
  }

  close() {
    if (this.taps.length < 3) {
      this.editor.complain("Tap at least three places round the wound, then close the line.");
      return;
    }
    this.closing = true;
    this.go();
  }

  /** The ring on which all that was tapped begins and ends, or null. */
  get joinable() {
    const { paths, taps, closing } = this;
    if (closing || !paths.length || paths.length < taps.length - 1) return null;
    return this.editor.changes.stretchOf([taps[0], taps[taps.length - 1]]);
  }

  /** Put the stretch that was tapped in the place of the old one. */
  join() {
    const stretch = this.joinable;
    if (!stretch) return;
    const path = this.paths.flatMap((one, i) => (i ? one.slice(1) : one));
    this.clear();
    this.editor.changes.join(stretch, path);
  }

  /** Ask for the next path that is missing; with the last one the ring is closed. */
  go() {
    const { editor, taps, paths } = this, wanted = this.closing ? taps.length : taps.length - 1;
    if (editor.link.asked) return;
    if (paths.length < wanted) {
      const request = { kind: "follow", from: taps[paths.length], to: taps[(paths.length + 1) % taps.length] };
      editor.ask(request, (reply) => {
        if (!reply.path) return this.back();
        this.extend(reply.path);
        this.go();
      });
    } else if (this.closing) {
      const ring = paths.flatMap((path) => path.slice(0, -1));
      this.clear();
      editor.changes.place(untangled(ring));
    }
  }

  /** Put a path at the end of the line; taps move to where it found the edge. */
  extend(path) {
    const { taps, paths } = this, last = paths[paths.length - 1];
    if (last) path[0] = last[last.length - 1];
    else taps[0] = path[0];
    paths.push(path);
    if (paths.length < taps.length) taps[paths.length] = path[path.length - 1];
  }

  /** Take the last tap back. */
  back() {
    this.closing = false;
    this.taps.pop();
    this.paths.length = Math.min(this.paths.length, Math.max(0, this.taps.length - 1));
    this.editor.say(this.taps.length ? "Last point taken back." : "Nothing is drawn.");
    this.go();
  }

  cancel() {
    this.pressed = null;
  }

  /** Put the tool down; what is tapped stays. */
  leave() {
    this.closing = false;
  }

  /** Go on with what was tapped before. */
  resume() {
    if (!this.taps.length) return;
    this.editor.choice.target = this.target;
    this.go();
  }

  focus(q) {
    return this.pressed && this.editor.view.toPhoto(q);
  }

  draw() {
    const { view } = this.editor, place = (line) => pathOf(line.map((p) => view.toScreen(p)));
    const paths = this.paths.map((path) => `<path class="rim" d="${place(path)}"/><path class="edge" d="${place(path)}"/>`);
    const waiting = [...this.taps.slice(this.paths.length), ...(this.closing ? this.taps.slice(0, 1) : [])];
    const going = waiting.length > 1 ? `<path class="closing" d="${place(waiting)}"/>` : "";
    const dots = this.taps.map((p, i) => {
      const [x, y] = view.toScreen(p);
      return `<circle class="${i ? "point" : "start"}" cx="${x}" cy="${y}" r="${i ? 6 : 11}"/>`;
    });
    const finger = this.pressed ? `<circle class="start" cx="${this.pressed[0]}" cy="${this.pressed[1]}" r="4"/>` : "";
    return paths.join("") + going + dots.join("") + finger;
  }
}
