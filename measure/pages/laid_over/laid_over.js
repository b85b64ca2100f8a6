// Two pictures of one wound laid over one another: a slider between them, or both side by side.

const WIDE_PX = 600; // from here on both fit beside each other
const SIDES = ["earlier", "later"];
const MISSING = "A picture did not come. Check the connection, and load the page again.";
const CHOSEN = new Map(); // what was chosen for each pair, kept while the page is drawn anew

function made(kind, names = "", words = "") {
  const element = document.createElement(kind);
  element.className = names;
  element.textContent = words;
  return element;
}

function pathOf(rings) {
  return rings.map((ring) => `M${ring.map((p) => p.map((v) => v + 0.5).join(" ")).join("L")}Z`).join("");
}

class LaidOver {
  constructor(root, key) {
    Object.assign(this, { root, key });
    this.buttons = made("div", "row");
    this.buttons.setAttribute("role", "group");
    this.buttons.setAttribute("aria-label", "How the pictures are shown");
    this.over = this.button("One over the other", () => this.choose({ beside: false }));
    this.beside = this.button("Side by side", () => this.choose({ beside: true }));
    this.lines = this.button("", () => this.choose({ lines: !this.chosen.lines }));
    this.panels = made("div", "panels");
    this.range = made("input");
    Object.assign(this.range, { type: "range", min: 0, max: 100, step: 1 });
    this.range.setAttribute("aria-label", "Border between the earlier picture, left, and the later one, right");
    this.range.addEventListener("input", () => this.slide(Number(this.range.value)));
    this.legend = made("ul", "legend");
    this.missing = made("p", "missing");
    this.missing.setAttribute("role", "status");
    this.root.replaceChildren(this.buttons, this.panels, this.range, this.legend, this.missing);
  }

  button(words, act) {
    const button = made("button", "", words);
    button.type = "button";
    button.addEventListener("click", act);
    this.buttons.append(button);
    return button;
  }

  choose(choice) {
    this.chosen = { ...this.chosen, ...choice };
    CHOSEN.set(this.key, this.chosen);
    this.draw();
  }

  update(data) {
    const told = JSON.stringify(data);
    if (told === this.told) return;
    Object.assign(this, { told, data });
    this.chosen = CHOSEN.get(this.key) ?? { beside: this.root.clientWidth >= WIDE_PX, lines: true, at: 50 };
    this.draw();
  }

  draw() {
    const { beside, lines } = this.chosen, { width, height } = this.data;
    this.over.setAttribute("aria-pressed", String(!beside));
    this.beside.setAttribute("aria-pressed", String(beside));
    this.lines.textContent = lines ? "Hide outlines" : "Show outlines";
    this.missing.textContent = "";
    this.range.hidden = beside;
    this.panels.className = beside ? "panels beside" : "panels over";
    this.panels.style.setProperty("--shape", String(width / height));
    this.panels.replaceChildren(...(beside ? SIDES.map((side) => this.single(side)) : [this.both()]));
    this.legend.hidden = !lines;
    this.legend.replaceChildren(...SIDES.map((side) => this.entry(side)));
    this.slide(this.chosen.at);
  }

  single(side) {
    const panel = made("div", "panel");
    panel.append(this.picture(side), ...this.outlines(), this.scale(), made("div", "word left", this.data[side].title));
    return panel;
  }

  both() {
    const panel = made("div", "panel"), top = this.picture("later");
    top.className = "top";
    panel.append(this.picture("earlier"), top, ...this.outlines(), made("div", "bar"), this.scale());
    panel.append(made("div", "word left", this.data.earlier.title), made("div", "word right", this.data.later.title));
    const follow = (event) => {
      const box = panel.getBoundingClientRect();
      this.slide(Math.round(Math.min(100, Math.max(0, ((event.clientX - box.left) / box.width) * 100))));
    };
    panel.addEventListener("pointerdown", (event) => {
      panel.setPointerCapture(event.pointerId);
      follow(event);
    });
    panel.addEventListener("pointermove", (event) => panel.hasPointerCapture(event.pointerId) && follow(event));
    return panel;
  }

  picture(side) {
    const image = made("img"), { picture, title } = this.data[side], { width, height } = this.data;
    Object.assign(image, { width, height, alt: `The wound, ${title}.`, draggable: false });
    image.addEventListener("error", () => (this.missing.textContent = MISSING));
    image.src = picture;
    return image;
  }

  outlines() {
    if (!this.chosen.lines) return [];
    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    svg.setAttribute("viewBox", `0 0 ${this.data.width} ${this.data.height}`);
    svg.setAttribute("aria-hidden", "true");
    for (const side of SIDES) {
      for (const layer of ["rim", "edge"]) {
        const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
        path.setAttribute("class", `${side} ${layer}`);
        path.setAttribute("d", pathOf(this.data[side].rings));
        svg.append(path);
      }
    }
    return [svg];
  }

  scale() {
    const scale = made("div", "scale", "1 cm");
    scale.style.width = `${(this.data.cm / this.data.width) * 100}%`;
    return scale;
  }

  entry(side) {
    const entry = made("li"), line = made("i", side === "earlier" ? "dashed" : "");
    entry.append(line, made("span", "", `${this.data[side].title}: ${side === "earlier" ? "dashed" : "solid"} line`));
    return entry;
  }

  slide(at) {
    this.chosen.at = at;
    CHOSEN.set(this.key, this.chosen);
    this.range.value = at;
    this.range.setAttribute("aria-valuetext", `${at} % of the earlier picture, ${100 - at} % of the later one`);
    this.panels.style.setProperty("--at", `${at}%`);
  }
}

const SHOWN = new WeakMap();

export default function mount({ parentElement, data }) {
  const root = parentElement.querySelector(".laid-over");
  let shown = SHOWN.get(root);
  if (!shown || shown.key !== data.key) SHOWN.set(root, (shown = new LaidOver(root, data.key)));
  shown.update(data);
  return () => SHOWN.delete(root);
}
