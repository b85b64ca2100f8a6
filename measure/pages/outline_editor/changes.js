// Changes to the wounds that are more than a drag: each is one step that can be undone.

class Changes {
  constructor(editor) {
    this.editor = editor;
  }

  /** Put a ring that was drawn where it was meant to go. */
  place(ring) {
    const { editor } = this, { target, view } = editor;
    if (ring.length < 3 || areaOf(ring) < Math.max(25, (10 / view.scale) ** 2)) {
      editor.complain("That line encloses too little. Draw it once all the way round.");
    } else if (target === "island") this.placeIsland(ring);
    else if (target === "new") this.placeWound(ring);
    else this.replaceOutline(ring);
  }

  placeWound(ring) {
    const { editor } = this, wounds = [...editor.wounds, { outline: ring, holes: [] }];
    editor.choice.target = "this";
    editor.commit(wounds, `Wound ${wounds.length} added.`, { wound: wounds.length - 1, ring: 0 });
  }

  replaceOutline(ring) {
    const { editor } = this, { wound } = editor.chosen;
    const holes = editor.wounds[wound].holes.filter((hole) => hole.every((p) => isInside(ring, p)));
    const wounds = withWound(editor.wounds, wound, { outline: ring, holes });
    editor.commit(wounds, "The whole line is drawn anew.", { wound, ring: 0 });
    editor.notice("The whole line is drawn anew. If only a part was meant, tap Undo.");
  }

  placeIsland(ring) {
    const { editor } = this, { wounds } = editor;
    const wound = wounds.findIndex((one) => ring.every((p) => isInside(one.outline, p)));
    if (wound < 0) {
      editor.complain("An island of healed skin lies inside a wound. Draw it inside the wound's line.");
      return;
    }
    const place = { wound, ring: wounds[wound].holes.length + 1 };
    editor.commit(withIsland(wounds, wound, ring), "Island of healed skin added.", place);
  }

  /** The ring of the chosen wound on which a path begins and ends, or null. */
  stretchOf(path) {
    const { editor } = this, { wounds, chosen } = editor;
    if (editor.target !== "this") return null;
    const ends = [path[0], path[path.length - 1]];
    const near = (place) => ends.every((p) => nearestOnRing(ringAt(wounds, place), p).distance < editor.reach);
    return placesIn(wounds).find((place) => place.wound === chosen.wound && near(place)) ?? null;
  }

  /** Put a path in the place of the stretch between its ends. */
  join(place, path) {
    const { editor } = this, ring = withStretch(ringAt(editor.wounds, place), path);
    editor.commit(withRing(editor.wounds, place, ring), "This part is drawn anew.", place);
  }

  /** Make one step of what a sweep left, and say if it left another number of wounds. */
  swept(wounds, said) {
    const { editor } = this, before = editor.wounds.length, now = wounds.length;
    editor.take(wounds, said);
    if (now > before) editor.complain(`There are ${now} wounds now. Delete what is left over (More), or tap Undo.`);
    if (now < before && now) editor.complain(now === 1 ? "There is 1 wound now." : `There are ${now} wounds now.`);
  }

  /** Set a point half-way to the next one. */
  insertPoint() {
    const { editor } = this, { chosen, wounds } = editor;
    if (chosen.point === undefined) return editor.say("Choose a point first, with N.");
    const ring = ringAt(wounds, chosen), [, after] = neighbours(editor.shown(chosen), chosen.point);
    const edge = Math.floor((chosen.point + (after > chosen.point ? after : after + ring.length)) / 2) % ring.length;
    const point = between(ring[edge], ring[(edge + 1) % ring.length], 0.5);
    const fresh = withRing(wounds, chosen, withInserted(ring, edge, point));
    editor.commit(fresh, "Point inserted.", { ...chosen, point: edge + 1 });
  }

  deletePoint() {
    const { editor } = this, { chosen, wounds } = editor;
    if (chosen.point === undefined) return editor.say("Choose a point first, with N.");
    const left = withRemoved(ringAt(wounds, chosen), editor.shown(chosen), chosen.point);
    if (left.length < 3) return editor.complain("Three points are the fewest. Delete the whole line, or zoom in.");
    editor.commit(withRing(wounds, chosen, left), "Point deleted.", { wound: chosen.wound, ring: chosen.ring });
  }

  deleteIsland() {
    const { editor } = this, { chosen, wounds } = editor;
    if (chosen.ring) editor.commit(withoutIsland(wounds, chosen), "Island deleted.", { wound: chosen.wound, ring: 0 });
  }

  deleteWound() {
    const { editor } = this, { wound } = editor.chosen;
    const rest = editor.wounds.filter((_, i) => i !== wound);
    editor.commit(rest, `Wound ${wound + 1} deleted.`, { wound: 0, ring: 0 });
  }

  backToProposal() {
    const { editor } = this;
    editor.use("drag");
    editor.commit(editor.data.proposal, "Back to the proposal.", { wound: 0, ring: 0 }, 0);
  }
}
