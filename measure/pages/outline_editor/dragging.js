// The tool "Drag": points, the line between them, whole wounds; on empty ground it moves the photo.

class Dragging {
  constructor(editor) {
    this.editor = editor;
    this.name = "drag";
    this.word = "Drag";
    this.key = "1";
  }

  get hint() {
    return this.editor.choice.whole
      ? "Put your finger on a wound and move all of it."
      : "Drag the line, or a point on it, to where the wound's edge is.";
  }

  down(q, touch) {
    this.from = q;
    this.slack = touch ? 6 : 3;
    this.going = false;
    this.hit = this.editor.choice.whole ? this.woundUnder(q) : this.pointUnder(q, touch);
    if (!this.hit) this.panned = q;
    else if (this.hit.point !== undefined) this.editor.choose(this.hit);
  }

  move(q) {
    if (!this.going && distance(q, this.from) < this.slack) return;
    if (!this.hit) {
      this.editor.view.pan([q[0] - this.panned[0], q[1] - this.panned[1]]);
      this.panned = q;
      this.going = true;
      return;
    }
    if (!this.going) this.begin();
    const d = [(q[0] - this.from[0]) / this.editor.view.scale, (q[1] - this.from[1]) / this.editor.view.scale];
    if (this.hit.all) this.editor.show(withWound(this.start.wounds, this.hit.wound, shifted(this.wound, d, this.editor.view)));
    else this.editor.show(withRing(this.start.wounds, this.hit, withMoved(this.ring, this.weights, d, this.within)));
  }

  begin() {
    const { editor, hit } = this;
    this.going = true;
    this.within = (p) => editor.view.within(p);
    this.start = editor.history.now;
    this.wound = this.start.wounds[hit.wound];
    if (hit.all) return;
    let ring = ringAt(editor.wounds, hit);
    let shown = editor.shown(hit);
    if (hit.point === undefined) {
      ring = withInserted(ring, hit.edge, hit.place);
      hit.point = hit.edge + 1;
      shown = shown.map((i) => (i > hit.edge ? i + 1 : i));
    }
    this.ring = ring;
    this.weights = weightsOf(ring, shown, hit.point);
    editor.chosen = { ...hit };
  }

  up(q) {
    const { editor } = this;
    if (this.going && this.hit) {
      this.move(q);
      editor.commit(editor.draft, this.hit.all ? "Wound moved." : "Moved.");
    } else if (!this.going && !this.hit) {
      this.pick(q);
    } else if (!this.going && this.hit.point === undefined && !this.hit.all) {
      editor.choose({ ...this.hit, point: this.nearestShown(this.hit) });
    }
    this.hit = null;
  }

  cancel() {
    this.hit = null;
    this.editor.show(null);
  }

  /** The point of the magnifier: what is moved, not the finger. */
  focus(q) {
    if (!this.hit || this.hit.all) return null;
    if (this.hit.point === undefined) return this.hit.place;
    return ringAt(this.editor.wounds, this.hit)[this.hit.point];
  }

  pick(q) {
    const p = this.editor.view.toPhoto(q), { reach } = this.editor;
    const wound = this.editor.wounds.findIndex(
      (one) => isInside(one.outline, p) || nearestOnRing(one.outline, p).distance < reach);
    if (wound >= 0 && wound !== this.editor.chosen.wound) {
      this.editor.choose({ wound, ring: 0 });
    } else {
      this.editor.choose({ wound: this.editor.chosen.wound, ring: 0 });
    }
  }

  /** The point or place on a line to take hold of; a finger takes the chosen wound's alone. */
  pointUnder(q, touch) {
    const { reach } = this.editor, p = this.editor.view.toPhoto(q);
    const chosen = this.editor.chosen.wound;
    const places = placesIn(this.editor.wounds).filter((place) => !touch || place.wound === chosen);
    let best = null;
    for (const place of places) {
      const ring = ringAt(this.editor.wounds, place);
      for (const point of this.editor.shown(place)) {
        const away = distance(ring[point], p) * (place.wound === chosen ? 1 : 1.5);
        if (away < reach * 0.75 && (!best || away < best.away)) best = { ...place, point, away };
      }
    }
    if (best) return best;
    for (const place of places) {
      const { edge, point, distance: away } = nearestOnRing(ringAt(this.editor.wounds, place), p);
      if (away < reach && (!best || away < best.away)) best = { ...place, edge, place: point, away };
    }
    return best && this.orHidden(best);
  }

  /** A hidden point that lies where a new one would be set is taken instead. */
  orHidden(hit) {
    const ring = ringAt(this.editor.wounds, hit), near = 5 / this.editor.view.scale;
    for (const i of [hit.edge, (hit.edge + 1) % ring.length]) {
      if (distance(ring[i], hit.place) < near) return { wound: hit.wound, ring: hit.ring, point: i };
    }
    return hit;
  }

  nearestShown(hit) {
    const ring = ringAt(this.editor.wounds, hit);
    return this.editor.shown(hit).reduce((best, i) =>
      distance(ring[i], hit.place) < distance(ring[best], hit.place) ? i : best);
  }

  woundUnder(q) {
    const p = this.editor.view.toPhoto(q), { reach } = this.editor;
    const wound = this.editor.wounds.findIndex(
      (one) => isInside(one.outline, p) || nearestOnRing(one.outline, p).distance < reach);
    if (wound < 0) return null;
    this.editor.choose({ wound, ring: 0 });
    return { wound, ring: 0, all: true };
  }
}
