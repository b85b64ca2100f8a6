// The tool "Tap round": tap after tap along the edge; between two taps the line finds the wound's edge by itself.

class Following {
  constructor(editor) {
    this.editor = editor;
    this.name = "follow";
    this.word = "Tap round";
    this.key = "5";
    this.clear();
  }

  clear() {
    this.taps = [];
    this.paths = [];
    this.going = null;
    this.pressed = null;
  }

  get hint() {
    if (!this.taps.length) return "Tap a place on the wound's edge.";
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
    if (this.taps.length > 2 && distance(view.toScreen(first), q) < 24) this.close();
    else if (!last) {
      this.taps.push(p);
      this.editor.say("First point.");
    } else if (distance(view.toScreen(last), q) > 6) this.go(last, p, () => this.taps.push(p));
  }

  close() {
    if (this.taps.length < 3) {
      this.editor.complain("Tap at least three places round the wound, then close the line.");
      return;
    }
    this.go(this.taps[this.taps.length - 1], this.taps[0], () => {
      const ring = this.paths.flatMap((path) => path.slice(0, -1));
      this.clear();
      this.editor.place(untangled(ring));
    });
  }

  go(from, to, done) {
    this.going = [from, to];
    this.editor.ask({ kind: "follow", from, to }, (reply) => {
      this.going = null;
      if (!reply.path) return;
      this.paths.push(reply.path);
      done();
      this.editor.say("The line goes on.");
    });
  }

  /** Take the last tap back. */
  back() {
    this.going = null;
    this.taps.pop();
    this.paths.pop();
    this.editor.say(this.taps.length ? "Last point taken back." : "Nothing is drawn.");
  }

  cancel() {
    this.pressed = null;
    this.going = null;
  }

  focus(q) {
    return this.pressed && this.editor.view.toPhoto(q);
  }

  draw() {
    const { view } = this.editor, place = (line) => pathOf(line.map((p) => view.toScreen(p)));
    const paths = this.paths.map((path) => `<path class="rim" d="${place(path)}"/><path class="edge" d="${place(path)}"/>`);
    const going = this.going ? `<path class="closing" d="${place(this.going)}"/>` : "";
    const dots = this.taps.map((p, i) => {
      const [x, y] = view.toScreen(p);
      return `<circle class="${i ? "point" : "start"}" cx="${x}" cy="${y}" r="${i ? 6 : 11}"/>`;
    });
    const finger = this.pressed ? `<circle class="start" cx="${this.pressed[0]}" cy="${this.pressed[1]}" r="4"/>` : "";
    return paths.join("") + going + dots.join("") + finger;
  }
}
