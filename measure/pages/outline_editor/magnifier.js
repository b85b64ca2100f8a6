// The magnifier: what lies under the finger, in a corner where the finger is not.

const GLASS = 132, TIMES = 2.5;

class Magnifier {
  constructor(canvas) {
    this.canvas = canvas;
    this.sharp = Math.min(2, globalThis.devicePixelRatio || 1);
    canvas.width = canvas.height = GLASS * this.sharp;
  }

  hide() {
    this.canvas.hidden = true;
  }

  /** Show the photo round point p, with lines in photo pixels; q is where the finger is. */
  show(image, view, p, q, lines) {
    const { canvas, sharp } = this, paper = canvas.getContext("2d");
    const scale = Math.max(view.scale * TIMES, 0.5);
    canvas.hidden = false;
    canvas.classList.toggle("right", q[0] < view.stage[0] / 2);
    paper.setTransform(sharp, 0, 0, sharp, 0, 0);
    paper.fillStyle = "#101820";
    paper.fillRect(0, 0, GLASS, GLASS);
    paper.translate(GLASS / 2 - (p[0] + 0.5) * scale, GLASS / 2 - (p[1] + 0.5) * scale);
    if (image.naturalWidth) paper.drawImage(image, 0, 0, view.photo[0] * scale, view.photo[1] * scale);
    for (const { line, closed } of lines) {
      paper.beginPath();
      for (const [x, y] of line) paper.lineTo((x + 0.5) * scale, (y + 0.5) * scale);
      if (closed) paper.closePath();
      stroke(paper, "#101820", 4);
      stroke(paper, "#40e0ff", 2);
    }
    paper.setTransform(sharp, 0, 0, sharp, 0, 0);
    paper.beginPath();
    for (const [x, y] of [[-1, 0], [1, 0], [0, -1], [0, 1]]) {
      paper.moveTo(GLASS / 2 + 6 * x, GLASS / 2 + 6 * y);
      paper.lineTo(GLASS / 2 + 22 * x, GLASS / 2 + 22 * y);
    }
    stroke(paper, "#101820", 3);
    stroke(paper, "#ffffff", 1.5);
  }
}

function stroke(paper, colour, width) {
  paper.strokeStyle = colour;
  paper.lineWidth = width;
  paper.stroke();
}
