// Is X this one or that one? A run of trials, X drawn anew for each; what was right is told at the end only, and how
// many trials there are is settled before, so that nobody stops when it happens to look good.
//
// In the spirit of ITU-R BS.1116-3, section 4 (test method: a hidden reference, double-blind, switching at will; section from
// memory) and no test to it: the level cue is taken out, and neither the listener nor anything on screen knows.

class ForcedChoice {
  /** a, b: ids. of: how many trials. coin: () => 0 or 1. before: what was answered already, as `state` gave it. */
  constructor(a, b, of, coin = () => Chance.below(2), before = { right: 0, answered: 0 }) {
    Object.assign(this, { a, b, of, coin, right: before.right, answered: before.answered });
    this._draw();
  }

  /** What it takes to go on later. Which one X is does not belong to it: that is drawn anew, or it could be looked up. */
  get state() {
    const { a, b, of, right, answered } = this;
    return { a, b, of, right, answered };
  }

  get over() {
    return this.answered >= this.of;
  }

  /** The id behind "a", "b" or "x". */
  sound(which) {
    return { a: this.a, b: this.b, x: this._x }[which];
  }

  /** which: "a" or "b". Returns whether there is another trial. */
  answer(which) {
    if (this.over) return false;
    if (this.sound(which) === this._x) this.right += 1;
    this.answered += 1;
    if (!this.over) this._draw();
    return !this.over;
  }

  /** The entry for the picks, of what was answered; null where nothing was. planned: how many trials it should have been. */
  result(when) {
    if (!this.answered) return null;
    const { a, b, right, answered, of } = this;
    return { a, b, right, of: answered, planned: of, p: Guessing.probability(right, answered), when };
  }

  _draw() {
    this._x = this.coin() ? this.b : this.a;
  }
}
