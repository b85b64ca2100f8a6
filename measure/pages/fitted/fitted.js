// A picture that was drawn for a width; asks for another one where its words would come out small or coarse.

const SMALLEST = 0.92; // of the drawn size: letters of 12 px are then 11 px high
const LARGEST = 1.25;
const REST_MS = 250; // a window that is being drawn wider comes to rest first
const SHOWN = new Map();

class Fitted {
  constructor(root) {
    this.image = document.createElement("img");
    this.image.className = "fitted";
    root.replaceChildren(this.image);
    this.observer = new ResizeObserver(() => {
      clearTimeout(this.timer);
      this.timer = setTimeout(() => this.ask(), REST_MS);
    });
    this.observer.observe(root);
    this.root = root;
  }

  update({ data, setStateValue }) {
    Object.assign(this, { data, setStateValue });
    if (this.image.getAttribute("src") !== data.picture) this.image.src = data.picture;
    this.image.alt = data.words;
    this.image.style.maxWidth = `${LARGEST * data.drawn}px`;
    this.ask();
  }

  ask() {
    const { drawn, least, most } = this.data;
    const width = Math.min(most, Math.max(least, 20 * Math.floor(this.root.clientWidth / 20)));
    const share = width / drawn;
    if (this.root.clientWidth && (share < SMALLEST || share > LARGEST)) this.setStateValue("width", width);
  }

  destroy() {
    clearTimeout(this.timer);
    this.observer.disconnect();
  }
}

export default function mount(component) {
  const root = component.parentElement.querySelector(".room");
  if (!SHOWN.has(root)) SHOWN.set(root, new Fitted(root));
  SHOWN.get(root).update(component);
  return () => {
    SHOWN.get(root)?.destroy();
    SHOWN.delete(root);
  };
}
