// The toolbar: tools, what can be chosen for the tool in hand, and what is always at hand.

class Toolbar {
  constructor(editor, place) {
    this.editor = editor;
    this.buttons = [];
    this.rows = {};
    this.open = false;
    const row = (name, label) => {
      this.rows[name] = document.createElement("div");
      this.rows[name].className = `row ${name}`;
      this.rows[name].setAttribute("role", "group");
      this.rows[name].setAttribute("aria-label", label);
      place.append(this.rows[name]);
    };
    row("tools", "How to correct the outline");
    row("options", "Choices for this tool");
    row("always", "Undo and view");
    row("more", "Wounds and proposal");
    this.fill();
  }

  fill() {
    const { editor } = this, { choice } = editor;
    for (const tool of editor.tools) {
      this.button("tools", tool.name, tool.word, () => editor.use(tool.name), {
        shown: () => !tool.absent,
        pressed: () => editor.tool === tool,
      });
    }
    const during = (...names) => () => names.includes(editor.tool.name);
    const tapped = () => editor.tool.name === "follow" && editor.tool.taps.length > 0;
    const islandChosen = () => editor.tool.name === "drag" && editor.chosen.ring > 0;
    this.button("options", "point", "Delete point", () => editor.changes.deletePoint(), {
      shown: during("drag"),
      able: () => editor.chosen.point !== undefined,
    });
    this.button("options", "move", "Move whole wound", () => editor.toggleWhole(), {
      shown: () => editor.tool.name === "drag" && !islandChosen() && editor.wounds.length > 0,
      pressed: () => choice.whole,
    });
    this.button("options", "bin", "Delete healed island", () => editor.changes.deleteIsland(), { shown: islandChosen });
    for (const size of ["small", "medium", "large"]) {
      this.button("options", size, `${size[0].toUpperCase()}${size.slice(1)}`, () => editor.set({ size }), {
        shown: during("add", "remove"),
        pressed: () => choice.size === size,
      });
    }
    for (const [target, name, word] of [["this", "again", "This wound"], ["new", "fresh", "New wound"], ["island", "island", "Healed island"]]) {
      this.button("options", name, word, () => editor.set({ target }), {
        shown: () => during("trace", "follow")() && editor.wounds.length > 0 && !tapped(),
        pressed: () => editor.target === target,
      });
    }
    this.button("options", "follow", "Join the line", () => editor.tool.join(), {
      shown: () => tapped() && Boolean(editor.tool.joinable),
    });
    this.button("options", "close", "Close the line", () => editor.tool.close(), {
      shown: tapped,
      able: () => editor.tool.taps.length > 2,
    });
    this.button("options", "stop", "Start over", () => editor.giveUp(), { shown: tapped });
    this.tissues(editor.tools.find((tool) => tool.name === "tissue"));
    this.button("always", "undo", "Undo", () => editor.undo(), { able: () => editor.canUndo });
    this.button("always", "redo", "Redo", () => editor.redo(), { able: () => editor.history.next.length > 0 });
    this.button("always", "closer", "Zoom in", () => editor.zoom(1.5));
    this.button("always", "farther", "Zoom out", () => editor.zoom(1 / 1.5));
    this.button("always", "whole", "Whole photo", () => editor.whole());
    this.button("always", "more", "More", () => this.toggle(), { expanded: () => this.open });
    this.button("more", "fresh", "Add a wound", () => this.then(() => editor.begins("new")), {
      shown: () => editor.wounds.length > 0,
    });
    this.button("more", "next", "Next wound", () => editor.nextWound(), { shown: () => editor.wounds.length > 1 });
    this.button("more", "island", "Add a healed island", () => this.then(() => editor.begins("island")), {
      shown: () => editor.wounds.length > 0,
    });
    this.button("more", "bin", "Delete wound", () => this.then(() => editor.changes.deleteWound()), {
      shown: () => editor.wounds.length > 0,
    });
    this.button("more", "again", "Back to the proposal", () => this.then(() => editor.changes.backToProposal()), {
      shown: () => editor.data?.proposal.length > 0,
      able: () => editor.history.now.edits > 0,
    });
    this.rows.more.insertAdjacentHTML("beforeend", KEYS);
  }

  /** What a region of tissue can be, and the skin to compare with. */
  tissues(tool) {
    const { editor } = this, inHand = () => editor.tool === tool && !tool.absent;
    for (const look of editor.looks) {
      const is = () => tool.regions[tool.chosen]?.tissue === look.tissue;
      this.button("options", "look", look.word, () => (tool.set(look.tissue), tool.back()), {
        shown: () => inHand() && tool.regions.length > 0,
        able: () => tool.chosen >= 0,
        pressed: is,
        sign: swatch(look),
      });
    }
    this.button("options", "skin", "Choose skin to compare with", () => tool.toggleSkin(), {
      shown: () => inHand() && tool.compares,
      pressed: () => tool.skin,
    });
  }

  /** Let the keys go to the button of a kind that is pressed, or to the first one. */
  focusOn(name) {
    const able = this.buttons.filter((button) => button.name === name && !button.element.disabled);
    (able.find((button) => button.pressed()) ?? able[0])?.element.focus();
  }

  button(row, name, word, act, { shown, able, pressed, expanded, sign } = {}) {
    const element = document.createElement("button");
    element.type = "button";
    element.className = name;
    element.innerHTML = `${sign ?? icon(name)}<span>${word}</span>`;
    element.addEventListener("click", () => {
      act();
      this.editor.draw();
    });
    this.rows[row].append(element);
    this.buttons.push({ name, element, shown, able, pressed, expanded });
  }

  toggle() {
    this.open = !this.open;
  }

  then(act) {
    this.open = false;
    act();
  }

  sync() {
    const { activeElement } = this.rows.tools.getRootNode();
    for (const { element, shown, able, pressed, expanded } of this.buttons) {
      element.hidden = Boolean(shown && !shown());
      element.disabled = Boolean(!element.hidden && able && !able());
      if (pressed) element.setAttribute("aria-pressed", String(pressed()));
      if (expanded) element.setAttribute("aria-expanded", String(expanded()));
    }
    this.rows.options.classList.toggle("tissues", this.editor.tool.name === "tissue");
    this.rows.more.hidden = !this.open;
    this.rows.options.hidden = [...this.rows.options.children].every((element) => element.hidden);
    this.release(activeElement);
  }

  /** Let the stage have the focus where a button can't keep it, else the next key would go nowhere. */
  release(element) {
    if (this.buttons.every((button) => button.element !== element)) return;
    if (element.disabled || element.closest("[hidden]")) this.editor.panel.overlay.focus({ preventScroll: true });
  }
}

const KEYS = `<details><summary>Keys</summary><dl id="keys">
<dt>1 to 6</dt><dd>choose how to correct</dd>
<dt>N, P</dt><dd>next and previous point; arrows move it, with Shift 10 pixels</dd>
<dt>N, P, Enter</dt><dd>with Tissue: next and previous region; to the buttons that say what it is</dd>
<dt>I, Delete</dt><dd>insert a point after this one; delete it</dd>
<dt>M, W</dt><dd>move the whole wound; next wound</dd>
<dt>Arrows, Enter</dt><dd>when adding, removing, tracing: move the cross; begin and end</dd>
<dt>C, J, Escape</dt><dd>close the tapped line, or join it to the old one; give up</dd>
<dt>Ctrl+Z, Ctrl+Shift+Z</dt><dd>undo, redo</dd>
<dt>+, -, 0</dt><dd>zoom in, zoom out, whole photo</dd>
</dl></details>`;
