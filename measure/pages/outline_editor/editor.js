// The outline editor: a photo, the outlines on it, and the tools to correct them.

class Editor {
  constructor(root, component) {
    const { data } = component;
    this.root = root;
    root.querySelector(".outline-editor").innerHTML = ROOMS;
    const find = (name) => root.querySelector(`.${name}`);
    this.parts = Object.fromEntries(["hint", "stage", "overlay", "numbers", "trouble", "status", "said"].map((name) => [name, find(name)]));
    this.image = find("photo");
    this.glass = new Magnifier(find("glass"));
    this.view = new View(data.width, data.height);
    this.image.style.width = `${data.width}px`;
    this.image.style.height = `${data.height}px`;
    this.key = data.key;
    this.choice = { whole: false, target: "this", size: "medium" };
    this.coarse = matchMedia("(pointer: coarse)").matches;
    this.link = new Link(data.saved, () => this.draw());
    this.tools = [
      new Dragging(this),
      new Sweeping(this, "add", "Add area", "2"),
      new Sweeping(this, "remove", "Remove area", "3"),
      new Tracing(this),
      new Following(this),
    ];
    this.restore(data);
    this.tool = this.tools[this.wounds.length ? 0 : 3];
    this.toolbar = new Toolbar(this, find("toolbar"));
    this.gestures = new Gestures(this, this.parts.overlay);
    this.keyboard = new Keyboard(this, root, this.parts.overlay);
    this.image.addEventListener("load", () => this.draw());
    this.image.addEventListener("error", () => this.complain("The photo did not come through. Open the page again."));
    this.watch = new ResizeObserver(() => this.fit());
    this.watch.observe(this.parts.stage);
    this.leaving = (event) => this.unsaved && event.preventDefault();
    addEventListener("beforeunload", this.leaving);
  }

  /** Begin with what Python holds, and with the steps of an earlier visit where they lead there. */
  restore(data) {
    const kept = HISTORIES.get(data.key);
    this.rev = data.rev;
    this.history = kept?.saved === data.saved ? kept.history : new History({ wounds: data.wounds, edits: data.edits });
    this.chosen = { wound: 0, ring: 0 };
  }

  update(component) {
    const { data } = component;
    this.component = component;
    this.data = data;
    if (data.rev !== this.rev) {
      this.rev = data.rev;
      this.replaced(data.wounds, data.edits);
    }
    this.link.update(component);
    HISTORIES.set(this.key, { history: this.history, saved: data.saved });
    if (this.photo !== data.photo) {
      this.photo = data.photo;
      this.full = false;
      this.image.src = data.photo;
    }
    this.draw();
  }

  destroy() {
    this.link.end();
    this.watch.disconnect();
    removeEventListener("beforeunload", this.leaving);
  }

  // What is there

  get wounds() {
    return this.draft ?? this.history.now.wounds;
  }

  get lines() {
    return this.data?.lines ?? [];
  }

  /** Whether Python's numbers and lines belong to what is on the screen. */
  get current() {
    return !this.draft && !this.link.sent && !this.link.asked && !this.burst;
  }

  get target() {
    return this.wounds.length ? this.choice.target : "new";
  }

  /** Whether the chosen wound's line is being drawn anew. */
  get redrawing() {
    return this.target === "this" && Boolean(this.tool.taps?.length || (this.tool.name === "trace" && this.tool.line));
  }

  get unsaved() {
    return Boolean(this.data?.unsaved || this.link.sent || this.burst);
  }

  get canUndo() {
    return this.history.past.length > 0 || this.tool.taps?.length > 0 || Boolean(this.link.asked);
  }

  rings() {
    return this.wounds.flatMap((wound, i) => [wound.outline, ...wound.holes].map((_, ring) => ({ wound: i, ring })));
  }

  ringOf({ wound, ring }) {
    return ring ? this.wounds[wound].holes[ring - 1] : this.wounds[wound].outline;
  }

  /** Numbers of the points of a ring that are shown; while a finger drags they stay as they are. */
  shown(place) {
    const chosen = place.wound === this.chosen.wound && place.ring === this.chosen.ring ? this.chosen.point : null;
    return shownPoints(this.ringOf(place), (this.coarse ? 40 : 30) / this.view.scale, chosen);
  }

  withRing({ wound, ring }, points) {
    const one = this.history.now.wounds[wound];
    return this.withWound(wound, ring
      ? { ...one, holes: one.holes.map((hole, i) => (i === ring - 1 ? points : hole)) }
      : { ...one, outline: points });
  }

  withWound(number, wound) {
    return this.history.now.wounds.map((one, i) => (i === number ? wound : one));
  }

  // What is done

  choose(place) {
    this.chosen = { wound: place.wound, ring: place.ring, point: place.point };
    if (place.point !== undefined) {
      const shown = this.shown(this.chosen);
      this.say(`Point ${shown.indexOf(place.point) + 1} of ${shown.length}${this.named()}.`);
    } else if (this.wounds.length > 1) this.say(`Wound ${place.wound + 1} of ${this.wounds.length}.`);
  }

  named() {
    const island = this.chosen.ring ? `, island ${this.chosen.ring}` : "";
    return `${island}${this.wounds.length > 1 ? `, wound ${this.chosen.wound + 1}` : ""}`;
  }

  show(wounds) {
    this.draft = wounds;
  }

  /** Make one undoable step of what was drawn, and send it. */
  commit(wounds, said, edits = this.history.now.edits + 1) {
    this.flush();
    this.take(wounds, said, edits);
    this.link.send(this.history.now);
    this.draw();
  }

  /** Make one undoable step of what Python already holds. */
  take(wounds, said, edits = this.history.now.edits + 1) {
    this.draft = null;
    this.history.push({ wounds, edits });
    this.settle(said);
  }

  /** Make one step of what a sweep left, and say if it left another number of wounds. */
  swept(wounds, said) {
    const before = this.wounds.length, now = wounds.length;
    this.take(wounds, said);
    if (now > before) this.complain(`There are ${now} wounds now. Delete what is left over (under More), or tap Undo.`);
    if (now < before && now) this.complain(`${now === 1 ? "There is 1 wound" : `There are ${now} wounds`} now.`);
  }

  /** Python put other outlines in the place of these: that can be undone too. */
  replaced(wounds, edits) {
    this.draft = null;
    this.history.push({ wounds, edits });
    this.settle("The outline was replaced.");
  }

  /** Choose nothing that is no longer there. */
  settle(said) {
    const { wounds } = this.history.now, wound = Math.max(0, Math.min(this.chosen.wound, wounds.length - 1));
    const rings = wounds.length ? wounds[wound].holes.length + 1 : 0;
    const same = wound === this.chosen.wound && this.chosen.ring < rings;
    this.chosen = same ? this.chosen : { wound, ring: 0 };
    if (rings && this.chosen.point >= this.ringOf(this.chosen).length) this.chosen = { wound, ring: this.chosen.ring };
    if (!wounds.length) this.use("trace");
    this.complaint = "";
    this.look();
    this.say(this.crossing ? `${said} ${this.crossing.words}` : said);
    this.draw();
  }

  undo() {
    if (this.tool.taps?.length) {
      this.link.drop();
      return this.tool.back();
    }
    if (this.link.asked) return this.giveUp();
    this.flush();
    if (this.history.undo()) this.stepped("Undone.");
  }

  redo() {
    this.flush();
    if (!this.link.asked && this.history.redo()) this.stepped("Done again.");
  }

  stepped(said) {
    this.chosen = { wound: this.chosen.wound, ring: this.chosen.ring };
    this.settle(said);
    this.link.send(this.history.now);
    this.draw();
  }

  /** Give up what is begun, and what was asked of Python. */
  giveUp() {
    this.link.drop();
    this.tool.cancel();
    this.tool.clear?.();
    this.say("Given up.");
    this.draw();
  }

  /** Whether a tool may begin: not while Python works at the last sweep. */
  ready() {
    this.flush();
    return !this.link.asked || Boolean(this.tool.patient);
  }

  ask(request, done) {
    this.flush();
    this.complaint = "";
    this.link.ask(request, (reply) => {
      if (!this.tool.patient) this.tool.cancel();
      done(reply);
      if (reply.trouble) this.complain(reply.trouble);
      this.draw();
    });
    this.draw();
  }

  use(name) {
    this.tool.cancel();
    this.tool.clear?.();
    this.tool = this.tools.find((tool) => tool.name === name);
    this.complaint = "";
    this.say(`${this.tool.word}. ${this.tool.hint}`);
  }

  set(choice) {
    Object.assign(this.choice, choice);
    this.say(this.tool.hint);
  }

  toggleWhole() {
    this.use("drag");
    this.set({ whole: !this.choice.whole });
  }

  /** Put a ring that was drawn where it was meant to go. */
  place(ring) {
    const { target, view } = this;
    if (ring.length < 3 || areaOf(ring) < Math.max(25, (10 / view.scale) ** 2)) {
      this.complain("That line encloses too little. Draw it once all the way round.");
      return;
    }
    if (target === "island") this.placeIsland(ring);
    else if (target === "new") {
      const wounds = [...this.wounds, { outline: ring, holes: [] }];
      this.chosen = { wound: wounds.length - 1, ring: 0 };
      this.choice.target = "this";
      this.commit(wounds, `Wound ${wounds.length} added.`);
    } else {
      const { wound } = this.chosen;
      const holes = this.wounds[wound].holes.filter((hole) => hole.every((p) => isInside(ring, p)));
      this.chosen = { wound, ring: 0 };
      this.commit(this.withWound(wound, { outline: ring, holes }), "The outline is drawn anew.");
    }
  }

  /** The ring of the chosen wound on which a path begins and ends, or null. */
  stretchOf(path) {
    if (this.target !== "this") return null;
    const reach = (this.coarse ? 32 : 24) / this.view.scale, ends = [path[0], path[path.length - 1]];
    const near = ({ wound, ring }) => ends.every((p) => nearestOnRing(this.ringOf({ wound, ring }), p).distance < reach);
    return this.rings().find((place) => place.wound === this.chosen.wound && near(place)) ?? null;
  }

  /** Put a path in the place of the stretch between its ends. */
  join(place, path) {
    const ring = withStretch(this.ringOf(place), path);
    this.chosen = { wound: place.wound, ring: place.ring };
    this.commit(this.withRing(place, ring), "This part is drawn anew.");
  }

  placeIsland(ring) {
    const wound = this.wounds.findIndex((one) => ring.every((p) => isInside(one.outline, p)));
    if (wound < 0) {
      this.complain("An island of healed skin lies inside a wound. Draw it inside the wound's line.");
      return;
    }
    const one = this.wounds[wound];
    this.chosen = { wound, ring: one.holes.length + 1 };
    this.commit(this.withWound(wound, { ...one, holes: [...one.holes, ring] }), "Island of healed skin added.");
  }

  insert() {
    const { chosen } = this;
    if (chosen.point === undefined) return this.say("Choose a point first, with N.");
    const ring = this.ringOf(chosen), [, after] = neighbours(this.shown(chosen), chosen.point);
    const edge = Math.floor((chosen.point + (after > chosen.point ? after : after + ring.length)) / 2) % ring.length;
    const place = between(ring[edge], ring[(edge + 1) % ring.length], 0.5);
    this.chosen = { ...chosen, point: edge + 1 };
    this.commit(this.withRing(chosen, withInserted(ring, edge, place)), "Point inserted.");
  }

  remove() {
    const { chosen } = this;
    if (chosen.point === undefined) return this.say("Choose a point first, with N.");
    const left = withRemoved(this.ringOf(chosen), this.shown(chosen), chosen.point);
    if (left.length < 3) return this.complain("Three points are the fewest. Delete the whole line, or zoom in.");
    this.chosen = { wound: chosen.wound, ring: chosen.ring };
    this.commit(this.withRing(chosen, left), "Point deleted.");
  }

  removeRing() {
    const { wound, ring } = this.chosen, one = this.wounds[wound];
    if (!ring) return;
    this.chosen = { wound, ring: 0 };
    this.commit(this.withWound(wound, { ...one, holes: one.holes.filter((_, i) => i !== ring - 1) }), "Island deleted.");
  }

  removeWound() {
    const { wound } = this.chosen;
    this.chosen = { wound: 0, ring: 0 };
    this.commit(this.wounds.filter((_, i) => i !== wound), `Wound ${wound + 1} deleted.`);
  }

  addWound() {
    this.use("trace");
    this.set({ target: "new" });
  }

  addIsland() {
    this.use("trace");
    this.set({ target: "island" });
  }

  nextWound() {
    if (this.wounds.length < 2) return;
    this.choose({ wound: (this.chosen.wound + 1) % this.wounds.length, ring: 0 });
    this.view.reveal(this.wounds[this.chosen.wound].outline[0]);
  }

  backToProposal() {
    this.chosen = { wound: 0, ring: 0 };
    this.use("drag");
    this.commit(this.data.proposal, "Back to the proposal.", 0);
  }

  /** Choose the next point that is shown, over all rings. */
  step(way) {
    if (!this.wounds.length) return;
    const all = this.rings().flatMap((place) => this.shown(place).map((point) => ({ ...place, point })));
    const { chosen } = this;
    const at = all.findIndex((one) => one.wound === chosen.wound && one.ring === chosen.ring && one.point === chosen.point);
    const start = at < 0 ? all.findIndex((one) => one.wound === chosen.wound) - (way > 0 ? 1 : 0) : at;
    this.choose(all[(start + way + all.length) % all.length]);
    this.view.reveal(this.ringOf(this.chosen)[this.chosen.point]);
  }

  /** Move the chosen point, or the whole wound, by some pixels; a burst of keys is one step. */
  nudge(d) {
    const { chosen, choice } = this;
    if (!this.wounds.length || this.link.asked) return;
    if (!choice.whole && chosen.point === undefined) return this.step(1);
    const within = (p) => this.view.within(p), ring = this.ringOf(chosen);
    const wounds = choice.whole
      ? this.withWound(chosen.wound, shifted(this.wounds[chosen.wound], d, this.view))
      : this.withRing(chosen, withMoved(ring, weightsOf(ring, this.shown(chosen), chosen.point), d, within));
    if (!this.nudged) this.history.push({ wounds, edits: this.history.now.edits + 1 });
    else this.history.now = { ...this.history.now, wounds };
    this.nudged = true;
    clearTimeout(this.burst);
    this.burst = setTimeout(() => this.flush(), 350);
    if (!choice.whole) this.view.reveal(this.ringOf(chosen)[chosen.point]);
  }

  /** End a burst of keys. */
  flush() {
    clearTimeout(this.burst);
    this.burst = null;
    if (!this.nudged) return;
    this.nudged = false;
    this.link.send(this.history.now);
    this.look();
    this.say(this.crossing ? `Moved. ${this.crossing.words}` : "Moved.");
  }

  // How it looks

  fit() {
    const { clientWidth, clientHeight } = this.parts.stage;
    if (!clientWidth || !clientHeight) return;
    const centre = this.view.toPhoto([this.view.stage[0] / 2, this.view.stage[1] / 2]);
    this.view.stage = [clientWidth, clientHeight];
    if (this.view.touched) this.view.centreOn(centre);
    else if (this.wounds.length) this.view.fit(boxOf(this.wounds.map((wound) => wound.outline)), 0.3);
    else this.view.whole();
    this.draw();
  }

  zoom(factor) {
    const { chosen, view } = this;
    const point = chosen.point === undefined ? null : view.toScreen(this.ringOf(chosen)[chosen.point]);
    view.zoomAt(point ?? [view.stage[0] / 2, view.stage[1] / 2], factor);
    if (point) view.reveal(this.ringOf(chosen)[chosen.point]);
    this.draw();
  }

  whole() {
    this.view.whole();
    this.view.touched = true;
    this.draw();
  }

  magnify(at, q) {
    const lines = this.rings().map((place) => ({ line: this.ringOf(place), closed: true }));
    const drawn = this.tool.name === "trace" && this.tool.line;
    if (drawn) lines.push({ line: drawn.map((one) => this.view.toPhoto(one)), closed: false });
    this.glass.show(this.image, this.view, at, q, lines);
  }

  say(text) {
    this.parts.said.textContent = text;
  }

  complain(text) {
    this.complaint = text;
    this.draw();
  }

  draw() {
    this.frame ??= requestAnimationFrame(() => {
      this.frame = null;
      this.paint();
    });
  }

  paint() {
    if (!this.data) return;
    const { view, parts, data } = this;
    this.look();
    const { scale, at } = view;
    this.image.style.transform = `translate(${at[0]}px, ${at[1]}px) scale(${scale})`;
    parts.overlay.innerHTML = drawingOf(this);
    parts.overlay.classList.toggle("still", Boolean(this.link.asked) && !this.tool.patient);
    parts.hint.textContent = this.tool.hint;
    write(parts.trouble, this.trouble());
    const low = this.crossing && view.toScreen(this.crossing.place)[1] > view.stage[1] / 2;
    parts.trouble.classList.toggle("top", Boolean(low));
    write(parts.numbers, (data.trouble ? [] : data.numbers).join("\n"));
    parts.numbers.classList.toggle("old", !this.current);
    parts.numbers.setAttribute("aria-busy", String(!this.current));
    write(parts.status, this.status());
    this.toolbar.sync();
    this.sharpen();
  }

  /** Look for what crosses. Wounds may touch: where Python finds nothing wrong with them, they do not overlap. */
  look() {
    this.crossing = crossingIn(this.wounds);
    if (!this.crossing && (!this.current || this.data.trouble)) this.crossing = overlapOf(this.wounds);
  }

  trouble() {
    if (this.crossing) return `${this.crossing.words} Drag it apart there, or tap Undo.`;
    return this.complaint || (this.current ? this.data.trouble : "");
  }

  status() {
    if (this.link.late) return "No answer yet: not saved. Trying again; keep this page open.";
    if (this.link.asked) return "Working ...";
    const { edits } = this.history.now;
    const proposed = this.data.proposal.length > 0;
    if (!edits) return proposed ? "As proposed" : "";
    return `${edits} ${edits === 1 ? "change" : "changes"}${proposed ? " to the proposal" : ""}`;
  }

  /** Take the full photo once the preview would look coarse. */
  sharpen() {
    const { data, view } = this;
    if (this.full || !data.full || view.scale * (devicePixelRatio || 1) * Math.max(data.width, data.height) < 1.3 * 2048) return;
    this.full = true;
    const whole = new Image();
    whole.src = data.full;
    whole.decode().then(() => { this.image.src = data.full; }, () => {});
  }
}

function write(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

const ROOMS = `
<p class="hint"></p>
<div class="stage">
  <div class="mat"><img class="photo" alt="" draggable="false"></div>
  <svg class="overlay" tabindex="0" role="application" aria-label="Outline on the photo. N chooses the next point, arrows move it."></svg>
  <canvas class="glass" hidden aria-hidden="true"></canvas>
  <p class="trouble" role="alert"></p>
</div>
<p class="numbers" aria-live="polite"></p>
<p class="status"></p>
<div class="toolbar"></div>
<p class="said" role="status" aria-live="polite"></p>`;

const EDITORS = new WeakMap();

export default function mount(component) {
  const { parentElement, data } = component;
  let editor = EDITORS.get(parentElement);
  if (editor && editor.key !== data.key) {
    editor.destroy();
    editor = null;
  }
  if (!editor) EDITORS.set(parentElement, (editor = new Editor(parentElement, component)));
  editor.update(component);
  return () => {
    editor.destroy();
    EDITORS.delete(parentElement);
  };
}
