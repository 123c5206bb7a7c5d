// Hands on the cloth: pointer, pen and fingers.

import { move, turnAbout } from './affine.js';
import { edgeAt, Pulling } from './basting.js';
import { framed } from './frames.js';
import { rounded } from './placements.js';
import { Snapping } from './snapping.js';

const REACH = { mouse: 2, pen: 6, touch: 14 };
const START = { mouse: 4, pen: 6, touch: 8 };
const QUARTER = 15;

export class Hands {
  constructor(table, element, { several }) {
    this.table = table;
    this.element = element;
    /** Whether a touch adds to what is picked. */
    this.several = several;
    this.fingers = new Map();
    this.deed = null;
    element.addEventListener('pointerdown', (event) => this.#down(event));
    element.addEventListener('pointermove', (event) => this.#moved(event));
    element.addEventListener('pointerup', (event) => this.#up(event));
    element.addEventListener('pointercancel', (event) => this.#up(event, true));
    element.addEventListener('wheel', (event) => this.#wheel(event), { passive: false });
  }

  #point(event) {
    const { left, top } = this.element.getBoundingClientRect();
    return [event.clientX - left, event.clientY - top];
  }

  #down(event) {
    if (event.button !== 0 && event.button !== 1) return;
    this.element.focus({ preventScroll: true });
    event.preventDefault();
    this.element.setPointerCapture(event.pointerId);
    const point = this.#point(event);
    this.fingers.set(event.pointerId, point);
    if (this.fingers.size === 2) {
      this.cancel();
      this.deed = new Pinch(this.table, this.fingers);
      return;
    }
    if (this.fingers.size > 2 || this.deed) return;
    this.deed = this.#begin(event, point);
  }

  #begin(event, point) {
    const { table } = this;
    if (event.button === 1) return new Slide(table, point);
    const pin = event.target.closest?.('[data-pin]');
    if (pin) return new PinDeed(table, pin.dataset.pin, point);
    const more = this.several() || event.shiftKey || event.ctrlKey || event.metaKey;
    const knot = event.target.closest?.('[data-knot]');
    if (knot) return new Pulling(table, { across: 1, down: 1, ...JSON.parse(knot.dataset.knot) }, point);
    const hit = table.motifAt(point, REACH[event.pointerType] ?? 4);
    const edge = !hit && !more && table.marks.sizing && edgeAt(table, point, event.pointerType);
    if (edge) return new Pulling(table, edge, point);
    if (!hit) return more ? new Chalk(table, point) : new Slide(table, point, true);
    const known = table.picked.has(hit.key);
    if (known && more) {
      // Lifted again without a move, it is put down from what is picked.
      return new Carry(table, point, START[event.pointerType], () => table.unpick(hit.key));
    }
    const alone = known && table.picked.size > 1;
    table.pick(hit.key, hit.copy, { more: more || known });
    table.say(table.describe(hit.key));
    return new Carry(table, point, START[event.pointerType], () => alone && table.pick(hit.key, hit.copy));
  }

  #moved(event) {
    const point = this.#point(event);
    if (!this.fingers.has(event.pointerId)) {
      const { table } = this;
      if (event.pointerType !== 'mouse' || !table.lie) return;
      const over = table.motifAt(point, REACH.mouse);
      this.element.classList.toggle('over', Boolean(over));
      const edge = !over && table.marks.sizing && edgeAt(table, point);
      this.element.dataset.edge = edge ? cursorOf(edge) : '';
      return;
    }
    this.fingers.set(event.pointerId, point);
    this.deed?.move(point, event);
  }

  #up(event, given = false) {
    if (!this.fingers.delete(event.pointerId)) return;
    const { deed } = this;
    if (!deed || (deed instanceof Pinch && this.fingers.size)) return;
    this.deed = null;
    if (given) deed.cancel();
    else deed.end();
  }

  cancel() {
    const { deed } = this;
    this.deed = null;
    deed?.cancel();
  }

  /** Take the tile's basting into the hand, to be moved by keys. */
  takeBasting() {
    if (!this.deed && this.table.lie) this.deed = new Pulling(this.table, { across: 1, down: 1 });
  }

  /** Lay down what is in the hand. */
  lay() {
    const { deed } = this;
    this.deed = null;
    deed?.end();
  }

  #wheel(event) {
    event.preventDefault();
    const size = event.deltaMode === 1 ? 20 : event.deltaMode === 2 ? 400 : 1;
    if (event.ctrlKey || event.metaKey) {
      this.table.zoom(Math.exp(-event.deltaY * size * 0.004), this.#point(event));
      return;
    }
    const [dx, dy] = event.shiftKey && !event.deltaX ? [event.deltaY, 0] : [event.deltaX, event.deltaY];
    this.table.slide(-dx * size, -dy * size);
    this.table.settleSoon();
  }
}

/** Which way a hand would pull: CSS's names of the corners and sides. */
function cursorOf({ across, down }) {
  if (across && down) return across === down ? 'nwse' : 'nesw';
  return across ? 'ew' : 'ns';
}

/** The cloth slides under the hand. */
class Slide {
  constructor(table, point, unpicks = false) {
    Object.assign(this, { table, last: point, unpicks, far: 0 });
    this.frame = framed((x, y) => {
      this.table.slide(x - this.last[0], y - this.last[1]);
      this.last = [x, y];
    });
  }

  move([x, y]) {
    this.far = Math.max(this.far, Math.hypot(x - this.last[0], y - this.last[1]));
    if (this.far > 3) this.frame.ask(x, y);
  }

  end() {
    this.frame.now();
    if (this.far <= 3 && this.unpicks) this.table.pickNone();
    this.table.settleSoon();
  }

  cancel() {
    this.frame.stop();
    this.table.settleSoon();
  }
}

/** A pulled tape brings the cloth along. */
export function pull(table, tape) {
  let slide = null;
  tape.addEventListener('pointerdown', (event) => {
    if (slide || event.button !== 0) return;
    tape.setPointerCapture(event.pointerId);
    slide = new Slide(table, [event.clientX, event.clientY]);
  });
  tape.addEventListener('pointermove', (event) => slide?.move([event.clientX, event.clientY]));
  for (const kind of ['pointerup', 'pointercancel']) {
    tape.addEventListener(kind, () => {
      slide?.end();
      slide = null;
    });
  }
}

/** Two fingers slide and stretch the cloth. */
class Pinch {
  constructor(table, fingers) {
    Object.assign(this, { table, fingers });
    [this.middle, this.span] = this.#grip();
    this.frame = framed(() => {
      const [middle, span] = this.#grip();
      this.table.slide(middle[0] - this.middle[0], middle[1] - this.middle[1]);
      this.table.zoom(span / this.span, middle);
      [this.middle, this.span] = [middle, span];
    });
  }

  #grip() {
    const [[ax, ay], [bx, by]] = [...this.fingers.values()];
    return [[(ax + bx) / 2, (ay + by) / 2], Math.max(8, Math.hypot(ax - bx, ay - by))];
  }

  move() {
    if (this.fingers.size >= 2) this.frame.ask();
  }

  end() {
    this.frame.stop();
    this.table.settleSoon(this.middle);
  }

  cancel() {
    this.end();
  }
}

/** A chalk line about what is to be picked. */
class Chalk {
  constructor(table, point) {
    Object.assign(this, { table, from: point, to: point });
  }

  get box() {
    const [[ax, ay], [bx, by]] = [this.from, this.to];
    return [Math.min(ax, bx), Math.min(ay, by), Math.max(ax, bx), Math.max(ay, by)];
  }

  move(point) {
    this.to = point;
    this.table.marks.drawChalk(this.box);
  }

  end() {
    this.table.marks.drawChalk(null);
    this.table.pickWithin(this.box, true);
  }

  cancel() {
    this.table.marks.drawChalk(null);
  }
}

/** What is in the hand is lifted once the hand has moved a little, and follows it then. */
class Lifting {
  constructor(table, point, start) {
    Object.assign(this, { table, from: point, start, state: 'waiting', last: null });
    this.frame = framed((x, y, event) => this.step([x, y], event));
  }

  move([x, y], event) {
    this.last = [x, y, event];
    if (this.state === 'waiting' && Math.hypot(x - this.from[0], y - this.from[1]) > this.start) {
      this.state = 'lifting';
      this.lifted = this.#lift();
    }
    if (this.state === 'carrying') this.frame.ask(x, y, event);
  }

  async #lift() {
    this.before();
    const ready = await this.table.take(this.extra);
    if (!ready || this.state !== 'lifting') return;
    this.state = 'carrying';
    this.begun();
    this.step([this.last[0], this.last[1]], this.last[2]);
  }

  async end() {
    if (this.state === 'waiting') {
      this.tapped();
      return;
    }
    // A quick hand lets go before all is lifted.
    await this.lifted;
    if (this.state !== 'carrying') return;
    this.frame.stop();
    this.step([this.last[0], this.last[1]], this.last[2]);
    this.state = 'done';
    await this.table.lay(this.what);
  }

  cancel() {
    this.frame.stop();
    const begun = this.state === 'lifting' || this.state === 'carrying';
    this.state = 'done';
    if (begun) this.table.letGo();
  }

  tapped() {}
  before() {}
  begun() {}
}

/** Motifs are moved. */
class Carry extends Lifting {
  constructor(table, point, start, tapped) {
    super(table, point, start ?? 4);
    this.tapped = tapped;
  }

  begun() {
    this.what = `${this.table.subject} moved`;
    this.snapping = new Snapping(this.table, this.table.middleOfPicked);
  }

  step([x, y], event) {
    const { table } = this;
    const { view } = table;
    let by = [((x - this.from[0]) * view.dpr) / view.zx, ((y - this.from[1]) * view.dpr) / view.zy];
    let guides = {};
    if (table.snap && !event.altKey) ({ by, guides } = this.snapping.moved(by));
    table.carry(move(...by), true);
    table.marks.drawGuides(guides);
  }
}

/** Motifs are turned or scaled by a pin. */
class PinDeed extends Lifting {
  constructor(table, kind, point) {
    super(table, point, 1);
    this.kind = kind;
    this.what = `${table.subject} ${kind === 'turn' ? 'turned' : 'scaled'}`;
    this.about = table.middleOfPicked;
    this.middle = table.view.toPage(this.about);
    const [[key]] = table.picked;
    this.row = table.rowOf(key);
  }

  step([x, y], event) {
    const { table } = this;
    const free = !table.snap || event.altKey;
    const [mx, my] = this.middle;
    const [fx, fy] = this.from;
    if (this.kind === 'turn') {
      let by = ((Math.atan2(y - my, x - mx) - Math.atan2(fy - my, fx - mx)) * 180) / Math.PI;
      by = free ? rounded(by, 1) : Math.round(by / QUARTER) * QUARTER;
      table.carry(turnAbout(this.about, by), false);
    } else {
      const factor = Math.hypot(x - mx, y - my) / Math.max(1, Math.hypot(fx - mx, fy - my));
      const by = Math.max(0.02, free ? factor : Math.round(factor * 20) / 20);
      table.carry(turnAbout(this.about, 0, by), false);
    }
  }
}

/** A motif from the tray comes onto the cloth under the hand. */
export class FromTray extends Lifting {
  constructor(table, name, point) {
    super(table, point, 0);
    this.key = table.store.freshKey();
    const at = table.view.toCloth(point).map((v) => rounded(v, 3));
    this.row = { motif: name, at, turn: 0, scale: 1, flip: false };
    this.extra = new Map([[this.key, this.row]]);
    this.what = `${name} added`;
  }

  before() {
    this.table.picked = new Map([[this.key, { turn: 0, i: 0, j: 0 }]]);
  }

  begun() {
    this.snapping = new Snapping(this.table, this.row.at);
  }

  step([x, y], event) {
    const { table } = this;
    const to = table.view.toCloth([x, y]);
    let by = [to[0] - this.row.at[0], to[1] - this.row.at[1]];
    let guides = {};
    if (table.snap && !event.altKey) ({ by, guides } = this.snapping.moved(by));
    table.carry(move(...by), true);
    table.marks.drawGuides(guides);
  }
}
