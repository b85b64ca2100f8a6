// The panel: the rooms of the editor, and what is said in them.

const ROOMS = `
<p class="hint" id="hint"></p>
<div class="stage">
  <div class="mat"><img class="photo" alt="" draggable="false"></div>
  <svg class="overlay" tabindex="0" role="application" aria-label="Outline on the photo. N: next point, arrows: move it."
    aria-describedby="hint keys"></svg>
  <canvas class="glass" hidden aria-hidden="true"></canvas>
  <p class="trouble" role="alert"></p>
  <p class="notice" aria-hidden="true"></p>
</div>
<ul class="legend" role="list" aria-label="What the hatches mean"></ul>
<p class="numbers" aria-live="polite"></p>
<p class="status"></p>
<div class="toolbar"></div>
<p class="said" role="status" aria-live="polite"></p>`;

class Panel {
  constructor(root) {
    this.room = root.querySelector(".outline-editor");
    this.room.innerHTML = ROOMS;
    for (const name of ["hint", "stage", "photo", "overlay", "glass", "trouble", "notice", "legend", "numbers", "status", "toolbar", "said"]) {
      this[name] = root.querySelector(`.${name}`);
    }
  }

  /** Say something to who listens to the screen. */
  say(text) {
    this.said.textContent = text;
  }

  paint(editor) {
    const { crossing, view, data, current, link, tool, history } = editor;
    this.overlay.innerHTML = drawingOf(editor);
    this.overlay.classList.toggle("still", Boolean(link.asked) && !tool.patient);
    const resting = !editor.begun && editor.coarse;
    this.overlay.classList.toggle("resting", resting);
    write(this.hint, resting ? "Tap the photo to correct the line." : tool.hint);
    write(this.trouble, troubleOf(editor));
    const meant = crossing?.place ?? (tool.trouble && history.now.control); // what is wrong there is not to be covered
    this.trouble.classList.toggle("top", Boolean(meant) && view.toScreen(meant)[1] > view.stage[1] / 2);
    write(this.notice, this.trouble.textContent ? "" : editor.noticed ?? "");
    this.room.classList.toggle("naming", tool.name === "tissue");
    this.key(legendOf(editor));
    this.legend.classList.toggle("old", !current);
    write(this.numbers, data.trouble && current ? "No numbers until this is put right." : data.numbers.join("\n"));
    this.numbers.classList.toggle("old", !current);
    this.numbers.setAttribute("aria-busy", String(!current));
    write(this.status, statusOf(editor));
  }

  /** Show the legend; it is drawn anew only where it changes. */
  key(html) {
    if (this.keyed !== html) this.legend.innerHTML = this.keyed = html;
    this.legend.hidden = !html;
  }
}

function write(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

function troubleOf({ crossing, complaint, current, data, tool }) {
  if (crossing) return `${crossing.words} Drag it apart there, or tap Undo.`;
  return complaint || (current ? data.trouble || (tool.trouble ?? "") : "");
}

function statusOf({ link, history, data }) {
  if (link.late) return "No answer yet: not saved. Trying again; keep this page open.";
  if (link.asked) return "Working ...";
  const { edits, taps } = history.now, proposed = data.proposal.length > 0;
  const drawn = edits ? `${edits} ${edits === 1 ? "change" : "changes"}${proposed ? " to the proposal" : ""}` : "";
  const said = taps.length ? `${taps.length} ${taps.length === 1 ? "region" : "regions"} of tissue set by hand` : "";
  return [drawn || (proposed ? "As proposed" : ""), said].filter(Boolean).join(" · ");
}
