// The view: where the photo lies under the stage. Pixel centres are at whole numbers, so the photo begins at -0.5.

class View {
  constructor(width, height) {
    this.photo = [width, height];
    this.stage = [1, 1];
    this.scale = 1;
    this.at = [0, 0];
    this.touched = false;
  }

  toScreen(p) {
    return [(p[0] + 0.5) * this.scale + this.at[0], (p[1] + 0.5) * this.scale + this.at[1]];
  }

  toPhoto(q) {
    return [(q[0] - this.at[0]) / this.scale - 0.5, (q[1] - this.at[1]) / this.scale - 0.5];
  }

  get least() {
    return Math.min(this.stage[0] / this.photo[0], this.stage[1] / this.photo[1]);
  }

  /** Show a box of the photo as large as the stage allows, with a margin that is a share of the box. */
  fit(box, margin = 0) {
    const width = Math.max(1, box[2] - box[0]) * (1 + 2 * margin), height = Math.max(1, box[3] - box[1]) * (1 + 2 * margin);
    this.scale = Math.min(this.stage[0] / width, this.stage[1] / height, 2);
    this.centreOn([(box[0] + box[2]) / 2, (box[1] + box[3]) / 2]);
  }

  whole() {
    this.fit([-0.5, -0.5, this.photo[0] - 0.5, this.photo[1] - 0.5]);
  }

  centreOn(p) {
    this.limit();
    this.at = [0, 1].map((axis) => this.stage[axis] / 2 - (p[axis] + 0.5) * this.scale);
    this.keepIn();
  }

  zoomAt(q, factor) {
    const p = this.toPhoto(q);
    this.scale *= factor;
    this.limit();
    this.at = [q[0] - (p[0] + 0.5) * this.scale, q[1] - (p[1] + 0.5) * this.scale];
    this.keepIn();
    this.touched = true;
  }

  pan(d) {
    this.at = moved(this.at, d);
    this.keepIn();
    this.touched = true;
  }

  /** Move the view just so far that a point of the photo is well inside the stage. */
  reveal(p) {
    const q = this.toScreen(p);
    const margin = 48;
    this.at = [0, 1].map((axis) => {
      const low = margin - q[axis], high = q[axis] - (this.stage[axis] - margin);
      return this.at[axis] + (low > 0 ? low : high > 0 ? -high : 0);
    });
    this.keepIn();
  }

  limit() {
    this.scale = Math.min(Math.max(this.scale, this.least), Math.max(8, this.least));
  }

  /** Keep the photo under the stage; a strip beside it may show, so that its border can be reached. */
  keepIn() {
    this.limit();
    this.at = [0, 1].map((axis) => {
      const size = this.photo[axis] * this.scale, room = this.stage[axis];
      if (size <= room) return (room - size) / 2;
      return Math.min(48, Math.max(room - size - 48, this.at[axis]));
    });
  }

  /** Keep points inside the photo. */
  within(p) {
    return [0, 1].map((axis) => Math.min(this.photo[axis] - 0.5, Math.max(-0.5, p[axis])));
  }
}
