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
    const { editor } = this, wound = this.woundRound(ring);
    if (wound === null) {
      editor.complain("That line goes round none of the wounds. Choose 'New wound' to add one.");
      return;
    }
    const islands = editor.wounds[wound].holes;
    const holes = islands.filter((hole) => hole.every((p) => isInside(ring, p)) && !mutualCrossing(ring, hole));
    const wounds = withWound(editor.wounds, wound, { outline: ring, holes });
    editor.commit(wounds, "The whole line is drawn anew.", { wound, ring: 0 });
    const gone = islands.length - holes.length, many = gone === 1 ? "1 healed island" : `${gone} healed islands`;
    const removed = gone ? ` ${many} that it does not enclose ${gone === 1 ? "is" : "are"} removed.` : "";
    editor.notice(`The whole line is drawn anew.${removed} If that was not meant, tap Undo.`);
  }

  /** The wound that a ring was drawn round: the only one, or the one that lies in it most; null where none does. */
  woundRound(ring) {
    const { wounds, chosen } = this.editor;
    if (wounds.length === 1) return 0;
    const share = ({ outline }, i) => shareWithin(outline, ring) * (i === chosen.wound ? 1.1 : 1);
    const shares = wounds.map(share), most = Math.max(...shares);
    return most > 0 ? shares.indexOf(most) : null;
  }

  placeIsland(ring) {
    const { editor } = this, { wounds } = editor;
    const wound = wounds.findIndex((one) => ring.every((p) => isInside(one.outline, p)));
    if (wound < 0) {
      editor.complain("A healed island lies inside a wound. Draw it inside the wound's line.");
      return;
    }
    const place = { wound, ring: wounds[wound].holes.length + 1 };
    editor.commit(withIsland(wounds, wound, ring), "Healed island added.", place);
  }

  /** The ring on which a path begins and ends, or null; of two that are as near, that of the chosen wound. */
  stretchOf(path) {
    const { editor } = this, { wounds, chosen, reach } = editor;
    if (editor.target !== "this") return null;
    const ends = [path[0], path[path.length - 1]];
    let best = null;
    for (const place of placesIn(wounds)) {
      const aways = ends.map((p) => nearestOnRing(ringAt(wounds, place), p).distance);
      const away = (aways[0] + aways[1]) * (place.wound === chosen.wound ? 1 : 1.5);
      if (aways.every((one) => one < reach) && (!best || away < best.away)) best = { place, away };
    }
    return best && best.place;
  }

  /** Choose the other wound that a place lies in; returns whether there is one. */
  chooseAt(p) {
    const { editor } = this, wound = editor.wounds.findIndex((one) => isInside(one.outline, p));
    if (editor.target !== "this" || wound < 0 || wound === editor.chosen.wound) return false;
    editor.choose({ wound, ring: 0 });
    return true;
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
    if (chosen.ring) editor.commit(withoutIsland(wounds, chosen), "Healed island deleted.", { wound: chosen.wound, ring: 0 });
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
