// The tool "Tissue": a tap chooses a region of tissue, a button says what it is. A tap can also choose the skin that
// the skin round the wound is compared with.

const NOTHING_TOLD = {
  regions: [],
  percent: [],
  trouble: "Put the line right first. Then tissue can be marked.", // what can't be measured has none
  controls: [],
  controlRadius: null,
  skinTrouble: "",
};

class Tissue {
  constructor(editor) {
    this.editor = editor;
    this.name = "tissue";
    this.word = "Tissue";
    this.key = "6";
    this.place = null; // in the region that is chosen
    this.skin = false; // whether the next tap is on skin to compare with
  }

  /** Where Python never said anything of tissue there is no such tool. */
  get absent() {
    return !this.editor.knowsTissue;
  }

  get told() {
    return this.editor.data?.tissue ?? NOTHING_TOLD;
  }

  /** Whether Python compares skin in this photo. */
  get compares() {
    return Boolean(this.told.controlRadius);
  }

  get hint() {
    if (this.skin) return "Tap healthy skin, away from the wound and its redness.";
    if (!this.regions.length) return this.told.trouble || "No tissue is marked in this photo.";
    if (this.chosen < 0) return "Tap an area in the wound, then say what it is.";
    return `This is marked as ${this.lookOf(this.regions[this.chosen].tissue).word.toLowerCase()}. If not, tap what it is.`;
  }

  /** The regions as they are shown: with what was said, though Python may not have heard it yet. */
  get regions() {
    const { regions } = this.told, { taps } = this.editor.history.now;
    if (this.found !== regions || this.said !== taps) {
      this.found = regions;
      this.said = taps;
      this.shown = asSaid(regions, taps);
    }
    return this.shown;
  }

  /** The number of the region that is chosen, or -1. */
  get chosen() {
    return this.place ? this.regions.findIndex((region) => holds(region, this.place)) : -1;
  }

  /** Why the skin that a person chose can't be used; it costs no other number. */
  get trouble() {
    const { skinTrouble } = this.told;
    return this.editor.history.now.control && !this.skin ? (skinTrouble ?? "") : "";
  }

  lookOf(tissue) {
    return this.editor.data.looks.find((look) => look.tissue === tissue);
  }

  /** The circles of skin to compare with: one where a person last chose it, else those that Python found. */
  get controls() {
    const { controls, controlRadius } = this.told, chosen = this.editor.history.now.control;
    return chosen && controlRadius ? [{ at: chosen, radius: controlRadius }] : controls;
  }

  down(q, touch) {
    this.start = this.last = q;
    this.slack = touch ? 10 : 4;
    this.going = false;
  }

  /** A finger that goes on moves the photo. */
  move(q) {
    if (!this.last || (!this.going && distance(q, this.start) < this.slack)) return;
    this.going = true;
    this.editor.view.pan([q[0] - this.last[0], q[1] - this.last[1]]);
    this.last = q;
  }

  up(q) {
    const { going } = this, { view } = this.editor, tapped = this.last;
    this.last = null;
    if (!tapped || going) return;
    const p = view.toPhoto(q);
    if (this.skin) this.compareWith(p);
    else this.pick(regionAt(this.regions, p, this.editor.reach), p);
  }

  cancel() {
    this.last = null;
  }

  clear() {
    this.skin = false;
    this.place = null;
  }

  leave() {
    this.clear();
  }

  /** Take the tool in hand: points of the outline are no longer chosen. */
  resume() {
    this.editor.chosen = { wound: this.editor.chosen.wound, ring: 0 };
  }

  focus() {
    return null;
  }

  pick(number, p) {
    const region = this.regions[number];
    if (!region) {
      this.place = null;
      return this.editor.say("No region there.");
    }
    this.place = p && holds(region, p) ? p : placeInside(region);
    this.editor.chosen = { wound: region.wound, ring: 0 };
    this.editor.say(this.described(number));
  }

  /** Choose the next region. */
  step(way) {
    const { length } = this.regions, { chosen } = this;
    if (!length) return this.editor.say(this.hint);
    this.pick(chosen < 0 ? (way > 0 ? 0 : length - 1) : (chosen + way + length) % length);
    this.editor.view.reveal(this.place);
  }

  described(number) {
    const region = this.regions[number], many = this.editor.wounds.length > 1 ? ` ${region.wound + 1}` : "";
    const all = this.regions.filter((one) => one.wound === region.wound).reduce((sum, one) => sum + areaOfRegion(one), 0);
    const share = Math.max(1, Math.round((100 * areaOfRegion(region)) / all));
    const said = region.byHand ? " By your word." : "";
    const word = this.lookOf(region.tissue).word.toLowerCase();
    return `Region ${number + 1} of ${this.regions.length}: ${word}, about ${share} % of the wound${many}.${said}`;
  }

  /** Say what the chosen region is. */
  set(tissue) {
    const { editor, chosen } = this, region = this.regions[chosen];
    if (!region || (region.tissue === tissue && region.byHand)) return;
    const words = `${this.lookOf(tissue).word}, by your word.`;
    editor.record({ taps: withTap(editor.history.now.taps, region, this.place, tissue) }, words);
  }

  toggleSkin() {
    this.skin = !this.skin;
    this.place = null;
    this.editor.cursor = null;
    this.editor.hush();
    this.editor.say(this.hint);
  }

  compareWith(p) {
    const { editor } = this, at = editor.view.within(p).map((x) => Math.round(x * 100) / 100);
    if (editor.wounds.some(({ outline }) => isInside(outline, at))) {
      editor.complain("That is in the wound. Tap healthy skin beside it.");
      return;
    }
    this.skin = false;
    editor.cursor = null;
    editor.record({ control: at }, "Skin around the wound is compared with this place.");
  }

  /** Let the keys go to the buttons that say what a region is, and come back once one was pressed. */
  enter() {
    if (this.chosen < 0) return this.step(1);
    this.returns = true;
    this.editor.toolbar.focusOn("look");
  }

  /** Let the keys come back to the photo. */
  back() {
    if (this.returns) this.editor.panel.overlay.focus({ preventScroll: true });
    this.returns = false;
  }

  /** What lies under the outlines: the regions, hatched. */
  under() {
    const patterns = this.editor.data.looks.map((look) => look.svg).join("");
    const areas = this.regions.map((region) => {
      const fill = `fill:url(#hatch-${this.lookOf(region.tissue).pattern})`;
      return `<path class="tissue" fill-rule="evenodd" style="${fill}" d="${this.pathOf(region)}"/>`;
    });
    return `<defs>${patterns}</defs><g transform="translate(${this.editor.view.at})">${areas.join("")}</g>`;
  }

  /** A region as it lies on the photo's corner: moved from there, its hatch goes with the photo. */
  pathOf({ rings }) {
    const { view } = this.editor;
    return rings.map((ring) => `${pathOf(ring.map((p) => moved(view.toScreen(p), view.at, -1)))}Z`).join("");
  }

  draw() {
    const { view } = this.editor, region = this.regions[this.chosen];
    const border = region ? ["border rim", "border"].map((kind) => `<path class="${kind}" d="${this.pathOf(region)}"/>`) : [];
    const hands = this.regions.filter(({ byHand }) => byHand).map((one) => mark(view.toScreen(placeOf(one))));
    const skin = this.controls.map((one) => circle(view, one, "Skin"));
    return `<g transform="translate(${view.at})">${border.join("")}</g>${hands.join("")}${skin.join("")}`;
  }
}

const PLACES = new WeakMap();

/** A place well inside a region, looked for once. */
function placeOf(region) {
  if (!PLACES.has(region.rings)) PLACES.set(region.rings, placeInside(region));
  return PLACES.get(region.rings);
}

/** The sign of what a person said: a tick in a disc. */
function mark([x, y]) {
  return `<g class="mark" transform="translate(${x},${y})"><circle r="11"/><path d="M-5 0L-1 4L5 -4"/></g>`;
}

/** A circle on the photo with a word below it. */
function circle(view, { at, radius }, word) {
  const [x, y] = view.toScreen(at), r = Math.max(6, radius * view.scale);
  const ring = (kind) => `<circle class="${kind}" cx="${x}" cy="${y}" r="${r}"/>`;
  return `<g class="ring ${word.toLowerCase()}">${ring("rim")}${ring("extent")}${label(x, y + r + 19, word)}</g>`;
}
