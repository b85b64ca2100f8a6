// The picture under the stage: a preview first, and the full photo once the preview would look coarse.

const PREVIEW_PX = 2048;

class Picture {
  constructor(image, width, height, view) {
    Object.assign(this, { image, view });
    image.style.width = `${width}px`;
    image.style.height = `${height}px`;
  }

  update({ photo, full }) {
    if (this.photo === photo) return;
    Object.assign(this, { photo, full, sharp: !full });
    this.image.src = photo;
  }

  paint() {
    const { scale, at, photo } = this.view;
    this.image.style.transform = `translate(${at[0]}px, ${at[1]}px) scale(${scale})`;
    if (this.sharp || scale * (globalThis.devicePixelRatio || 1) * Math.max(...photo) < 1.3 * PREVIEW_PX) return;
    this.sharp = true;
    const whole = new Image(), { full } = this;
    whole.src = full;
    whole.decode().then(() => full === this.full && (this.image.src = full), () => {});
  }
}
