// The table: everything that hands and keys can do with what is picked on the cloth.

import { boundsOf, inverse, mirrorAbout, move, times, turnAbout } from './affine.js';
import { at, copies, steps } from './lattice.js';
import { saidSize } from './lengths.js';
import { homed, matrixOf, middleOf, placementsOf, rounded, rowOf } from './placements.js';
import { Sight } from './sight.js';

export class Table extends Sight {
  // ------------------------------------------------------------------ carrying

  /** What rows become when their touched copies are moved by a map of the plane. */
  carried(map, moveOnly) {
    const changed = new Map();
    for (const [key, copy] of this.carrying?.picked ?? this.picked) {
      const row = this.rowOf(key);
      const motif = this.store.motifs.get(row.motif);
      const turned = times(move(...at(this.lie, copy.i, copy.j)), this.lie.turns[copy.turn]);
      const whole = times(inverse(turned), times(map, times(turned, matrixOf(row, motif))));
      const next = rowOf(whole, motif);
      changed.set(key, moveOnly ? { ...row, at: next.at } : { ...row, ...next, scale: Math.min(Math.max(next.scale, 0.001), 1000) });
    }
    return changed;
  }

  /** Take what is picked into the hand; `extra` holds rows that do not lie on the cloth yet. */
  async take(extra = new Map()) {
    const { order } = this.store.now;
    this.carrying = { picked: new Map(this.picked), extra, rows: null, state: this.store.now };
    const mine = this.carrying;
    const lifted = new Set();
    this.cloth.placements.forEach((placement, k) => {
      if (this.picked.has(order[Math.floor(k / this.lie.turns.length)])) lifted.add(placement);
    });
    await this.cloth.lift((placement) => lifted.has(placement), placementsOf([...extra.values()], this.store.motifs, this.lie.turns));
    return this.carrying === mine;
  }

  /** Move what is in the hand by a map of the plane, copies and all. */
  carry(map, moveOnly) {
    const rows = this.carried(map, moveOnly);
    this.carrying.rows = rows;
    const { order } = this.store.now;
    const keys = [...order.filter((key) => rows.has(key)), ...this.carrying.extra.keys()];
    this.cloth.carry(placementsOf(keys.map((key) => rows.get(key)), this.store.motifs, this.lie.turns));
    this.marks.drawFrames(this.frames(rows));
  }

  /** Take the whole cloth into the hand, to be laid on another tile; resolves to whether it still is. */
  async takeBasting() {
    const mine = { picked: new Map(), extra: new Map(), rows: null, state: this.store.now };
    this.carrying = mine;
    if (this.cloth.placements.length) await this.cloth.lift(() => true);
    return () => this.carrying === mine;
  }

  /** Show motifs where they are on another tile, the page's corner at a place of the cloth. */
  tryLie(lie, [x, y]) {
    this.lie = lie;
    Object.assign(this.view, { x, y });
    this.view.square();
    this.cloth.take(this.store.rows, lie);
    this.cloth.carry(this.cloth.placements);
    this.drawMarks();
    this.dispatchEvent(new Event('pulled'));
  }

  /** Lay down what is in the hand. */
  async lay(what) {
    const { rows, extra, state } = this.carrying;
    if (!rows || state !== this.store.now) {
      this.letGo();
      return;
    }
    this.carrying = null;
    this.marks.drawGuides({});
    this.put(rows, what, [...state.order, ...extra.keys()]);
  }

  /** Give up what is in the hand: all is as it was. */
  letGo() {
    for (const key of this.carrying?.extra?.keys() ?? []) this.picked.delete(key);
    this.carrying = null;
    this.cloth.refresh();
    this.marks.drawGuides({});
    this.repicked();
  }

  /** Commit changed rows, none far from the tile. */
  put(changed, what, order = this.store.now.order) {
    const rows = new Map(this.store.now.rows);
    for (const [key, row] of changed) {
      const near = row.at ? homed(this.lie, row.at) : row.at;
      const copy = this.picked.get(key);
      if (copy && row.at && near !== row.at) {
        // The touched copy stays where it is: its index changes.
        const turn = this.lie.turns[copy.turn];
        const by = [row.at[0] - near[0], row.at[1] - near[1]];
        const moved = [turn[0] * by[0] + turn[2] * by[1], turn[1] * by[0] + turn[3] * by[1]];
        const [i, j] = steps(this.lie, moved).map(Math.round);
        copy.i += i;
        copy.j += j;
      }
      rows.set(key, { ...row, at: near });
    }
    this.store.commit({ ...this.store.now, rows, order }, what);
    const [[key, row]] = changed;
    this.say(changed.size > 1 || !row.at ? what : `${what}: now at ${rows.get(key).at.map((v) => rounded(v, 1)).join(', ')} mm`);
  }

  // ------------------------------------------------------------------ deeds

  /** A sentence's subject: the motif picked, or how many. */
  get subject() {
    const keys = [...this.picked.keys()];
    return keys.length === 1 ? this.rowOf(keys[0]).motif : `${keys.length} motifs`;
  }

  get middleOfPicked() {
    const [x0, y0, x1, y1] = boundsOf(this.frames().flat());
    return [(x0 + x1) / 2, (y0 + y1) / 2];
  }

  nudge(dx, dy) {
    if (!this.picked.size) {
      this.slide(-dx * 40, -dy * 40);
      this.settleSoon();
      return;
    }
    this.put(this.carried(move(dx, dy), true), `${this.subject} moved`);
  }

  turn(degrees) {
    if (this.picked.size) this.put(this.carried(turnAbout(this.middleOfPicked, degrees), false), `${this.subject} turned`);
  }

  scale(factor) {
    if (this.picked.size) this.put(this.carried(turnAbout(this.middleOfPicked, 0, factor), false), `${this.subject} scaled`);
  }

  flip() {
    if (this.picked.size) this.put(this.carried(mirrorAbout(this.middleOfPicked[0]), false), `${this.subject} flipped`);
  }

  copy() {
    if (!this.picked.size) return;
    const what = `${this.subject} copied`;
    const off = 24 / this.view.scale;
    const moved = this.carried(move(off, off), true);
    const copied = new Map();
    const picked = new Map();
    const { order } = this.store.now;
    for (const key of order.filter((one) => moved.has(one))) {
      const fresh = this.store.freshKey();
      copied.set(fresh, { ...moved.get(key), pinned: false });
      picked.set(fresh, { ...this.picked.get(key) });
    }
    this.picked = picked;
    this.put(copied, what, [...order, ...copied.keys()]);
  }

  remove() {
    if (!this.picked.size) return;
    const what = `${this.subject} taken off`;
    const order = this.store.now.order.filter((key) => !this.picked.has(key));
    this.picked.clear();
    this.store.commit({ ...this.store.now, order }, what);
    this.say(what);
  }

  /** Pin down what is picked, or take the pins out: hands and tosses pass over what is pinned. */
  pinDown() {
    if (!this.picked.size) return;
    const all = [...this.picked.keys()].every((key) => this.isPinned(key));
    const rows = new Map(this.store.now.rows);
    for (const key of this.picked.keys()) rows.set(key, { ...rows.get(key), pinned: !all });
    this.store.commit({ ...this.store.now, rows }, `${this.subject} ${all ? 'unpinned' : 'pinned down'}`);
    this.say(`${this.subject} ${all ? 'unpinned' : 'pinned down: a toss leaves it, and only the stack picks it'}`);
  }

  /** Bring what is picked over (1) or under (-1) the next motif that it meets. */
  restack(by) {
    if (!this.picked.size) return;
    const { order } = this.store.now;
    const walk = by > 0 ? order.toReversed() : [...order];
    // From the far end on, each picked one changes places with the nearest that it touches.
    for (const key of [...walk].filter((one) => this.picked.has(one))) {
      const from = walk.indexOf(key);
      const touching = this.touching(key);
      let to = -1;
      for (let n = from - 1; n >= 0 && to < 0; n--) if (touching.has(walk[n])) to = n;
      if (to < 0 || this.picked.has(walk[to])) continue;
      walk.splice(from, 1);
      walk.splice(to, 0, key);
    }
    const next = by > 0 ? walk.toReversed() : walk;
    if (next.every((key, k) => key === order[k])) {
      this.say(`${this.subject}: nothing that it meets lies ${by > 0 ? 'over' : 'under'} it`);
      return;
    }
    this.store.commit({ ...this.store.now, order: next }, `${this.subject} ${by > 0 ? 'laid over' : 'tucked under'}`);
  }

  /** Keys of what a placement's box meets anywhere on the cloth. */
  touching(key) {
    const { order } = this.store.now;
    const found = new Set();
    this.cloth.placements.forEach((placement, k) => {
      if (this.keyAt(k) !== key) return;
      for (const [other] of copies(this.cloth.placements, this.lie, placement.box)) found.add(this.keyAt(other));
    });
    found.delete(key);
    return new Set(order.filter((one) => found.has(one)));
  }

  /** Put one picked placement as numbers say. */
  pose(values) {
    const [key] = this.picked.keys();
    const row = { ...this.store.now.rows.get(key), ...values };
    this.put(new Map([[key, row]]), `${row.motif} placed by numbers`);
  }

  /** A motif from the tray, in the middle of what is looked at. */
  add(name, point = this.view.toCloth(this.view.middle)) {
    const key = this.store.freshKey();
    const row = { motif: name, at: point.map((v) => rounded(v, 3)), turn: 0, scale: 1, flip: false, pinned: false };
    this.picked = new Map([[key, { turn: 0, i: 0, j: 0 }]]);
    this.put(new Map([[key, row]]), `${name} added`, [...this.store.now.order, key]);
  }

  /** Lay the cloth anew with these rows: all of them, or over what is there. */
  strew(rows, what, { over = false, settings = {} } = {}) {
    this.picked.clear();
    const now = this.store.now;
    const next = new Map(over ? now.rows : []);
    const pinned = over ? [] : now.order.filter((key) => now.rows.get(key).pinned);
    const keys = rows.map((row) => {
      // What stays where it was is the same placement.
      const key = row.pinned ? pinned.shift() : this.store.freshKey();
      next.set(key, row.pinned ? now.rows.get(key) : { at: null, turn: 0, scale: 1, flip: false, pinned: false, ...row });
      return key;
    });
    const order = over ? [...now.order, ...keys] : keys;
    this.store.commit({ ...now, rows: next, order, settings: { ...now.settings, ...settings } }, what);
  }

  /** Give a motif a rank, "" for none. */
  rank(name, rank) {
    const { now } = this.store;
    const said = Object.values(now.motifs).some((row) => row.rank);
    const motifs = { ...now.motifs };
    // Once one has a rank, those without are left out: all others keep what was guessed.
    if (!said) for (const one of this.store.data.motifs) motifs[one.name] = { ...motifs[one.name], rank: one.guessed };
    const { rank: before, ...rest } = motifs[name] ?? {};
    motifs[name] = rank ? { ...rest, rank } : rest;
    this.store.commit({ ...now, motifs }, `${name}: ${rank || 'left out'}`);
  }

  /** Print a motif so many mm wide, wherever it lies. */
  widen(name, width) {
    const { now } = this.store;
    this.store.commit({ ...now, motifs: { ...now.motifs, [name]: { ...now.motifs[name], width } } }, `${name} ${width} mm wide`);
  }

  /** Draw everything in other colours. */
  async dress({ ground, groundOpacity, pictures }, asDrawn) {
    this.store.dressed = asDrawn ? undefined : ground && [ground, groundOpacity];
    this.pictures.art = pictures;
    this.pictures.sprites.clear();
    this.cloth.take(this.store.rows, this.lie);
    this.drawMarks();
    await this.cloth.refresh();
  }

  relay(layout) {
    if (layout !== this.store.now.layout) this.store.commit({ ...this.store.now, layout }, `layout ${layout}`);
  }

  /**
   * How tiles of a size in mm lie, and the size as a recipe says it. Where the layout can't have
   * it, as squares only, the other side goes along.
   */
  async lieNear(sides) {
    const { layout } = this.store.now;
    try {
      const tile = saidSize(sides, this.unit);
      return { tile, lie: await this.lieOf(layout, tile) };
    } catch (error) {
      const { tile: before } = await this.lieOf(layout);
      const k = sides[0] === before[0] ? 1 : 0;
      const along = before.map((side) => (side * sides[k]) / before[k]);
      if (along.every((side, n) => side === sides[n])) throw error;
      const tile = saidSize(along, this.unit);
      return { tile, lie: await this.lieOf(layout, tile) };
    }
  }

  /** Give the tile another size in mm; motifs stay where they are. */
  async resizeTile(sides) {
    // The server knows which sizes the layout can have.
    const { tile } = await this.lieNear(sides);
    this.store.commit({ ...this.store.now, tile }, `tile ${tile}`);
  }

  /** Make everything larger or smaller, the tile too. */
  async scaleWhole(factor, tile) {
    await this.lieOf(this.store.now.layout, tile);
    const { now } = this.store;
    const rows = new Map();
    for (const [key, row] of now.rows) {
      const at = (row.at ?? middleOf(this.store.motifs.get(row.motif))).map((v) => rounded(v * factor, 4));
      rows.set(key, { ...row, at });
    }
    // Of motifs, so that those of the tray and of the next toss are in proportion too.
    const motifs = { ...now.motifs };
    for (const motif of this.store.data.motifs) {
      motifs[motif.name] = { ...motifs[motif.name], width: rounded(this.store.widthOf(motif) * factor, 4) };
    }
    this.store.commit({ ...now, rows, tile, motifs }, `whole design ${tile}`);
  }

  /** Lay the cloth on a colour, on `none`, or on the drawing's own ground for "". */
  layGround(ground) {
    this.store.commit({ ...this.store.now, ground }, `ground ${ground || 'as drawn'}`);
  }
}

