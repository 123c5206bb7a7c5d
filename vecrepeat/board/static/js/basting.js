// The basting is pulled: the tile gets another size while motifs stay, and the cloth follows.

import { framed } from './frames.js';
import { inUnit, toMm } from './lengths.js';

/** What one step of a ruler is, and one between its marks, in each unit. */
const STEPS = { mm: [1, 0.1], cm: [0.1, 0.01], in: [0.1, 0.01] };
/** How far from it a hand takes hold, in CSS pixels. */
const REACH = { mouse: 5, pen: 8, touch: 14 };
const LEAST = 2;
const AROUND = [0, 1];

/** Which edges of the marked tile lie under a point: { across, down }, each -1, 0 or 1; or null. */
export function edgeAt({ view, lie }, [x, y], kind) {
  const reach = REACH[kind] ?? REACH.mouse;
  const [[x0, y0], [x1, y1]] = [view.toPage([0, 0]), view.toPage(lie.tile)];
  if (x < x0 - reach || x > x1 + reach || y < y0 - reach || y > y1 + reach) return null;
  const near = (low, high, value) => (Math.abs(value - high) <= reach ? 1 : Math.abs(value - low) <= reach ? -1 : 0);
  const edge = { across: near(x0, x1, x), down: near(y0, y1, y) };
  return edge.across || edge.down ? edge : null;
}

export class Pulling {
  /**
   * @param edge which edges are in the hand, as of `edgeAt`.
   * @param point where on the page the hand took hold; none where keys do it.
   */
  constructor(table, edge, point = null) {
    const { view, lie } = table;
    Object.assign(this, { table, edge, from: point, before: lie, corner: [view.x, view.y] });
    this.sides = lie.tile;
    this.asking = Promise.resolve();
    this.frame = framed((x, y, event) => this.#step([x, y], event));
    if (!point) this.#take();
  }

  get unit() {
    return this.table.unit;
  }

  #take() {
    this.taken ??= this.table.takeBasting().then((mine) => {
      this.mine = mine;
      this.table.marks.showSize(this.sides, this.unit);
    });
  }

  move([x, y], event) {
    if (!this.from) return;
    if (!this.taken && Math.hypot(x - this.from[0], y - this.from[1]) < 3) return;
    this.#take();
    this.frame.ask(x, y, event);
  }

  #step([x, y], event) {
    const { view, snap } = this.table;
    const grain = STEPS[this.unit][snap && !event.altKey ? 0 : 1];
    const by = [((x - this.from[0]) * view.dpr) / view.zx, ((y - this.from[1]) * view.dpr) / view.zy];
    const ways = [this.edge.across, this.edge.down];
    const sides = AROUND.map((k) => (ways[k] ? this.#onGrain(this.before.tile[k] + ways[k] * by[k], grain) : this.before.tile[k]));
    this.#to(sides);
  }

  #onGrain(mm, grain) {
    return Math.max(LEAST, toMm(Number((Math.round(mm / toMm(grain, this.unit)) * grain).toFixed(4)), this.unit));
  }

  /** By keys: one step wider or higher, ten, or a tenth. */
  nudge(across, down, event) {
    const grain = STEPS[this.unit][0] * (event.shiftKey ? 10 : event.altKey ? 0.1 : 1);
    this.#to(AROUND.map((k) => {
      const by = [across, down][k];
      return by ? this.#onGrain(this.sides[k] + toMm(by * grain, this.unit), STEPS[this.unit][1]) : this.sides[k];
    }));
    this.table.say(`Tile ${this.sides.map((side) => inUnit(side, this.unit)).join(' × ')} ${this.unit}; Enter keeps it, Escape gives it up`);
  }

  /** Show the cloth on a tile of another size; the last one asked for wins. */
  #to(sides) {
    if (sides.every((side, k) => side === this.sides[k])) return;
    this.sides = sides;
    this.asking = this.asking.then(() => this.#try(sides));
  }

  async #try(sides) {
    await this.taken;
    const { table } = this;
    if (sides !== this.sides || !this.mine || this.over) return;
    try {
      const { lie } = await table.lieNear(sides);
      if (!this.mine() || this.over) return;
      this.refused = null;
      // The edge across from the one that is pulled stays where it is.
      const ways = [this.edge.across, this.edge.down];
      const off = AROUND.map((k) => (ways[k] < 0 ? lie.tile[k] - this.before.tile[k] : 0));
      table.tryLie(lie, AROUND.map((k) => this.corner[k] + off[k]));
      table.marks.showSize(lie.tile, this.unit);
    } catch (error) {
      this.refused = error;
    }
  }

  async end() {
    this.frame.now();
    await this.taken;
    await this.asking;
    if (!this.taken || !this.mine?.()) return;
    const { table, refused } = this;
    const { tile } = table.lie;
    this.#letGo();
    if (refused) table.store.notice(refused.message, true);
    if (tile.every((side, k) => side === this.before.tile[k])) {
      this.#back();
      return;
    }
    await table.resizeTile(tile);
    table.settleSoon();
  }

  cancel() {
    this.frame.stop();
    const mine = this.mine?.();
    this.#letGo();
    if (mine) this.#back();
  }

  #letGo() {
    this.over = true;
    this.table.carrying = null;
    this.table.marks.showSize(null);
  }

  #back() {
    this.table.tryLie(this.before, this.corner);
    this.table.letGo();
  }
}
