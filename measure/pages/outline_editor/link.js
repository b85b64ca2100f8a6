// The link to Python: sends what was drawn and what is asked, again and again until the answer is there.

const AGAIN_MS = 3000, LATE_MS = 2000;

class Link {
  constructor(saved, changed) {
    this.seq = saved;
    this.saved = saved;
    this.sent = null; // the outline that was sent last
    this.asked = null; // the request that waits for its answer
    this.changed = changed;
    this.timer = setInterval(() => this.look(), 500);
  }

  update(component) {
    this.component = component;
    this.saved = component.data.saved;
    if (this.sent && this.saved >= this.sent.seq) this.sent = null;
    const { asked } = this, { reply } = component.data;
    if (asked && reply && reply.seq === asked.request.seq) {
      this.asked = null;
      asked.done(reply);
    }
  }

  send(step) {
    this.seq += 1;
    const { rev } = this.component.data;
    this.sent = { step, seq: this.seq, rev, since: Date.now() };
    this.post();
    return this.seq;
  }

  ask(request, done) {
    this.seq += 1;
    this.asked = { request: { ...request, seq: this.seq }, done, since: Date.now() };
    this.post();
  }

  /** Give a request up; its answer, should it come, is not taken. Returns whether it would have changed the wounds. */
  drop() {
    const changes = Boolean(this.asked?.request.wounds);
    this.asked = null;
    return changes;
  }

  post() {
    const now = Date.now();
    if (this.sent) {
      const { step, seq, rev } = this.sent;
      this.component.setStateValue("outline", { ...step, seq, rev, sent: now });
    }
    if (this.asked) this.component.setTriggerValue("request", { ...this.asked.request, sent: now });
    this.posted = now;
  }

  /** Whether an answer is late. */
  get late() {
    const waiting = this.sent ?? this.asked;
    return Boolean(waiting) && Date.now() - waiting.since > LATE_MS;
  }

  look() {
    if ((this.sent || this.asked) && Date.now() - this.posted > AGAIN_MS) this.post();
    if (this.late !== this.wasLate) {
      this.wasLate = this.late;
      this.changed();
    }
  }

  end() {
    clearInterval(this.timer);
  }
}
