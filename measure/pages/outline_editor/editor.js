// The outline editor: a photo, the outlines on it, and the tools to correct them.

const NO_PHOTO = "The photo is not here yet. Check the connection; it is asked for again.";
const PHOTO_AGAIN_MS = 5000;
const BAR_PX = 60; // of the page's own bar, which lies over what is scrolled

class Editor {
  constructor(root, { data }) {
    this.panel = new Panel(root);
    this.view = new View(data.width, data.height);
    this.picture = new Picture(this.panel.photo, data.width, data.height, this.view);
    this.glass = new Magnifier(this.panel.glass);
    this.choice = { whole: false, target: "this", size: "medium" };
    this.coarse = matchMedia("(pointer: coarse)").matches;
    this.changes = new Changes(this);
    this.burst = new Burst(this);
    this.tools = [
      new Dragging(this),
      new Sweeping(this, "add", "Add area", "2"),
      new Sweeping(this, "remove", "Remove area", "3"),
      new Tracing(this),
      new Following(this),
      new Tissue(this),
    ];
    this.looks = data.looks;
    this.begin(data);
    this.tool = this.tools[this.wounds.length ? 0 : 3];
    this.begun = !this.wounds.length; // until then a swipe over the photo scrolls the page and edits nothing
    this.toolbar = new Toolbar(this, this.panel.toolbar);
    this.gestures = new Gestures(this, this.panel.overlay);
    this.keyboard = new Keyboard(this, root, this.panel.overlay);
    this.panel.photo.addEventListener("load", () => {
      if (this.complaint === NO_PHOTO) this.hush();
      this.draw();
    });
    this.panel.photo.addEventListener("error", () => this.missed());
    this.watch = new ResizeObserver(() => this.fit());
    this.watch.observe(this.panel.stage);
  }

  /** Begin with what Python holds, or with the steps of an earlier visit where they lead there or further. */
  begin(data) {
    const kept = KEPT.get(data.key), goesOn = kept && kept.seq >= data.saved;
    this.key = data.key;
    this.rev = data.rev;
    this.history = goesOn ? kept.history : new History(stepOf(data));
    this.seq = goesOn ? kept.seq : data.saved; // of the last step
    this.link = new Link(Math.max(this.seq, data.saved, data.reply.seq ?? 0), () => this.draw());
    this.unsent = this.seq > data.saved;
    this.chosen = { wound: 0, ring: 0 };
  }

  /** Say that the photo did not come, and ask for it again. */
  missed() {
    this.complain(NO_PHOTO);
    clearTimeout(this.again);
    this.again = setTimeout(() => this.picture.again(), PHOTO_AGAIN_MS);
  }

  update(component) {
    const { data } = component;
    this.data = data;
    this.knowsTissue ||= Boolean(data.tissue);
    if (data.rev !== this.rev) {
      this.rev = data.rev;
      this.take(data.wounds, "The outline was replaced.", data.edits);
    }
    this.link.update(component);
    if (this.unsent) this.send("");
    this.picture.update(data);
    this.keep();
    this.draw();
  }

  keep() {
    const unsaved = Boolean(this.data.unsaved || this.link.sent || this.burst.going);
    KEPT.set(this.key, { history: this.history, seq: this.seq, unsaved });
  }

  destroy() {
    clearTimeout(this.again);
    this.burst.destroy();
    this.link.end();
    this.watch.disconnect();
  }

  // What is there

  get wounds() {
    return this.draft ?? this.history.now.wounds;
  }

  /** Whether Python's numbers and lines belong to what is on the screen. */
  get current() {
    return !this.draft && !this.link.sent && !this.link.asked && !this.burst.going;
  }

  get target() {
    return this.wounds.length ? this.choice.target : "new";
  }

  /** How near to a line a finger must come, in px of the photo. */
  get reach() {
    return (this.coarse ? 32 : 24) / this.view.scale;
  }

  /** Whether the chosen wound's line is being drawn anew. */
  get redrawing() {
    return this.target === "this" && Boolean(this.tool.taps?.length || (this.tool.name === "trace" && this.tool.line));
  }

  get canUndo() {
    return this.history.past.length > 0 || this.tool.taps?.length > 0 || Boolean(this.link.asked);
  }

  /** Numbers of the points of a ring that are shown. */
  shown(place) {
    const chosen = place.wound === this.chosen.wound && place.ring === this.chosen.ring ? this.chosen.point : null;
    return shownPoints(ringAt(this.wounds, place), (this.coarse ? 40 : 30) / this.view.scale, chosen);
  }

  // Steps

  /** Show something that is not yet a step; null shows the last step again. */
  show(wounds) {
    this.draft = wounds;
  }

  /** Make one step of what was drawn, and send it. */
  commit(wounds, said, chosen = this.chosen, edits = this.history.now.edits + 1) {
    this.draft = null;
    if (!this.ready()) return this.draw();
    this.chosen = chosen;
    this.take(rounded(wounds), said, edits);
    this.send(said);
  }

  /** Make one step of what Python already holds. */
  take(wounds, said, edits = this.history.now.edits + 1) {
    this.draft = null;
    this.history.push({ ...this.history.now, wounds, edits });
    this.settle(said);
  }

  /** Make one step of what was said beside the outline, and send it. */
  record(said, words) {
    if (!this.ready()) return this.draw();
    this.history.push({ ...this.history.now, ...said });
    this.hush();
    this.send(words);
  }

  /** Send the last step. */
  send(said) {
    this.unsent = false;
    this.seq = this.link.send(this.history.now);
    this.keep();
    if (said) this.tell(said);
    this.draw();
  }

  /** Choose nothing that is no longer there. */
  settle(said) {
    const { wounds } = this.history.now, { ring, point } = this.chosen;
    const wound = Math.max(0, Math.min(this.chosen.wound, wounds.length - 1));
    const same = wound === this.chosen.wound && ring <= (wounds[wound]?.holes.length ?? 0);
    this.chosen = same ? this.chosen : { wound, ring: 0 };
    if (point !== undefined && !(wounds.length && point < ringAt(wounds, this.chosen).length)) {
      this.chosen = { wound, ring: this.chosen.ring };
    }
    this.handTool(wounds.length > 0);
    this.hush();
    this.tell(said);
    this.draw();
  }

  /** Without a wound one has to be traced; when it comes back, so does the tool that was in hand. */
  handTool(any) {
    if (!any) {
      this.before ??= this.tool.name;
      this.use("trace");
    } else {
      if (this.before && this.stepping) this.use(this.before);
      this.before = null;
    }
  }

  undo() {
    if (this.tool.taps?.length) {
      this.link.drop();
      this.tool.back();
      return this.draw();
    }
    if (this.link.asked) return this.giveUp();
    this.burst.end();
    if (this.history.undo()) this.stepped("Undone.");
  }

  redo() {
    this.burst.end();
    if (!this.link.asked && this.history.redo()) this.stepped("Done again.");
  }

  stepped(said) {
    this.chosen = { wound: this.chosen.wound, ring: this.chosen.ring };
    this.stepping = true;
    this.settle(said);
    this.stepping = false;
    this.send(said);
  }

  // Requests

  /** Whether a tool may begin: not while Python works at the last sweep. */
  ready() {
    this.burst.end();
    return !this.link.asked || Boolean(this.tool.patient);
  }

  ask(request, done) {
    this.burst.end();
    this.hush();
    this.link.ask(request, (reply) => {
      if (!this.tool.patient) this.tool.cancel();
      if (reply.wounds) this.seq = reply.seq;
      done(reply);
      if (reply.trouble) this.complain(reply.trouble);
      this.draw();
    });
    this.draw();
  }

  /** Give up what is begun; places that were tapped stay. */
  stop() {
    if (this.tool.taps?.length) this.say("The tapped points stay. Undo takes one back, 'Start over' all.");
    else this.giveUp();
  }

  /** Give up what is begun, what was tapped, and what was asked of Python. */
  giveUp() {
    const swept = this.link.drop();
    this.tool.cancel();
    this.tool.clear?.();
    if (swept) this.send(""); // Python may have taken it already
    this.panel.say("Given up.");
    this.draw();
  }

  // Tools and choices

  use(name) {
    this.begun = true;
    if (this.link.asked && this.tool.patient) this.link.drop();
    else if (this.link.asked) this.giveUp();
    this.tool.cancel();
    this.tool.leave?.();
    this.tool = this.tools.find((tool) => tool.name === name);
    Object.assign(this.choice, { whole: false, target: "this" });
    this.tool.resume?.();
    this.hush();
    this.say(`${this.tool.word}. ${this.tool.hint}`);
  }

  set(choice) {
    Object.assign(this.choice, choice);
    this.say(this.tool.hint);
  }

  toggleWhole() {
    const whole = !this.choice.whole;
    this.use("drag");
    this.set({ whole });
  }

  /** Begin to trace a new wound, or a healed island. */
  begins(target) {
    this.use("trace");
    this.set({ target });
  }

  choose({ wound, ring, point }) {
    this.chosen = { wound, ring, point };
    const island = ring ? `, healed island ${ring}` : "", many = this.wounds.length > 1;
    if (point !== undefined) {
      const shown = this.shown(this.chosen);
      this.say(`Point ${shown.indexOf(point) + 1} of ${shown.length}${island}${many ? `, wound ${wound + 1}` : ""}.`);
    } else if (many) this.say(`Wound ${wound + 1} of ${this.wounds.length}.`);
  }

  nextWound() {
    if (this.wounds.length < 2) return;
    this.choose({ wound: (this.chosen.wound + 1) % this.wounds.length, ring: 0 });
    this.view.reveal(this.wounds[this.chosen.wound].outline[0]);
  }

  /** Choose the next point that is shown, over all rings, or what the tool in hand goes through. */
  step(way) {
    if (this.tool.step) return this.tool.step(way);
    if (!this.wounds.length) return;
    const { chosen, wounds } = this;
    const all = placesIn(wounds).flatMap((place) => this.shown(place).map((point) => ({ ...place, point })));
    const is = (one) => one.wound === chosen.wound && one.ring === chosen.ring && one.point === chosen.point;
    const at = all.findIndex(is), first = all.findIndex((one) => one.wound === chosen.wound);
    this.choose(all[((at < 0 ? first - (way > 0 ? 1 : 0) : at) + way + all.length) % all.length]);
    this.view.reveal(ringAt(wounds, this.chosen)[this.chosen.point]);
  }

  nudge(d) {
    if (!this.wounds.length || this.link.asked) return;
    if (!this.choice.whole && this.chosen.point === undefined) this.step(1);
    else this.burst.move(d);
  }

  // How it looks

  fit() {
    const { clientWidth, clientHeight } = this.panel.stage, { view } = this;
    if (!clientWidth || !clientHeight) return;
    const centre = view.toPhoto([view.stage[0] / 2, view.stage[1] / 2]);
    view.stage = [clientWidth, clientHeight];
    if (view.touched) view.centreOn(centre);
    else if (this.wounds.length) view.fit(boxOf(this.wounds.map((wound) => wound.outline)), 0.3);
    else view.whole();
    this.draw();
  }

  zoom(factor) {
    const { chosen, view } = this, p = chosen.point === undefined ? null : ringAt(this.wounds, chosen)[chosen.point];
    view.zoomAt(p ? view.toScreen(p) : [view.stage[0] / 2, view.stage[1] / 2], factor);
    if (p) view.reveal(p);
    this.draw();
  }

  whole() {
    this.view.whole();
    this.view.touched = true;
    this.draw();
  }

  magnify(at, q) {
    const lines = placesIn(this.wounds).map((place) => ({ line: ringAt(this.wounds, place), closed: true }));
    const drawn = this.tool.name === "trace" && this.tool.line;
    if (drawn) lines.push({ line: drawn, closed: false });
    this.glass.show(this.panel.photo, this.view, at, q, lines);
  }

  say(text) {
    this.panel.say(text);
  }

  /** Where a point is, in words: px from the photo's left and top. */
  placeOf([x, y]) {
    return `${Math.round(x)} across, ${Math.round(y)} down.`;
  }

  /** Say what was done, and what crosses now. */
  tell(said) {
    this.look();
    this.say(this.crossing ? `${said} ${this.crossing.words}` : said);
  }

  complain(text) {
    this.complaint = text;
    this.draw();
  }

  /** Show what was done, until something else is begun. */
  notice(text) {
    this.noticed = text;
    this.draw();
  }

  /** Take back what was complained of and noticed. */
  hush() {
    this.complaint = this.noticed = "";
  }

  /** Look for what crosses. Wounds may touch: where Python finds nothing wrong with them, they do not overlap. */
  look() {
    if (this.looked !== this.wounds) this.within = crossingIn(this.wounds); // while the photo is only moved it stays
    this.looked = this.wounds;
    this.crossing = this.within;
    if (!this.crossing && (!this.current || this.data.trouble)) this.crossing = overlapOf(this.wounds);
  }

  draw() {
    this.frame ??= requestAnimationFrame(() => {
      this.frame = null;
      if (!this.data) return;
      this.look();
      this.picture.paint();
      this.panel.paint(this);
      this.toolbar.sync();
    });
  }
}

const EDITORS = new WeakMap();

/** Scroll back to a photo that follows another one, where its top is above the screen: saving is at the page's foot. */
function bringIntoSight(stage) {
  requestAnimationFrame(() => {
    if (stage.getBoundingClientRect().top < BAR_PX) stage.scrollIntoView({ block: "start" });
  });
}

export default function mount(component) {
  const { parentElement, data } = component;
  let editor = EDITORS.get(parentElement);
  if (editor && editor.key !== data.key) {
    editor.destroy();
    editor = null;
  }
  if (!editor) {
    EDITORS.set(parentElement, (editor = new Editor(parentElement, component)));
    if (data.next) bringIntoSight(editor.panel.stage);
  }
  editor.update(component);
  return () => {
    editor.destroy();
    EDITORS.delete(parentElement);
  };
}
