// The picture under the stage: a preview first, and the full photo once the preview would look coarse.

const PREVIEW_PX = 2048;
const MOST_PX = 30e6; // of a full photo: decoded it takes four bytes for each, and a tablet has few to spare

class Picture {
  constructor(image, width, height, view) {
    Object.assign(this, { image, view });
    image.style.width = `${width}px`;
    image.style.height = `${height}px`;
  }

  update({ photo, full }) {
    if (this.photo === photo) return;
    const [width, height] = this.view.photo;
    Object.assign(this, { photo, full, sharp: !full || width * height > MOST_PX });
    this.image.src = photo;
  }

  /** Ask for the preview again. */
  again() {
    if (this.image.naturalWidth) return; // the full photo came
    this.image.removeAttribute("src"); // else asking for the same address may be no request
    this.image.src = this.photo;
  }

  paint() {
    const { scale, at, photo } = this.view;
    this.image.style.transform = `translate(${at[0]}px, ${at[1]}px) scale(${scale})`;
    if (this.sharp || scale * (globalThis.devicePixelRatio || 1) * Math.max(...photo) < 1.5 * PREVIEW_PX) return;
    this.sharp = true;
    const whole = new Image(), { full } = this;
    whole.src = full;
    whole.decode().then(() => full === this.full && (this.image.src = full), () => {});
  }
}
