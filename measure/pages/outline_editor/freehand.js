// What tools share that are drawn in one go: the line so far, in photo px.

class Freehand {
  constructor(editor) {
    this.editor = editor;
    this.line = null;
  }

  down(q) {
    this.line = [this.editor.view.toPhoto(q)];
  }

  move(q) {
    const { view } = this.editor, p = view.toPhoto(q);
    if (this.line && distance(p, this.line[this.line.length - 1]) * view.scale >= 2) this.line.push(p);
  }

  cancel() {
    this.line = null;
  }

  focus(q) {
    return this.line && this.editor.view.toPhoto(q);
  }
}
