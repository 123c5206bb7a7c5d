// What is seen: the cloth on a layout at a scale, and what is picked on it.

import { apply, boundsOf, times } from './affine.js';
import { Cloth } from './cloth.js';
import { layAlike } from './history.js';
import { at, copies, steps } from './lattice.js';
import * as link from './link.js';
import { frameOf, Marks } from './marks.js';
import { Masks } from './masks.js';
import { Pictures } from './pictures.js';
import { matrixOf, middleOf, rounded } from './placements.js';
import { keptUnit, unitOf } from './lengths.js';
import { Tapes } from './tapes.js';
import { View } from './view.js';

const SETTLE = 140;

/** Events: `picked` when what is picked has changed, `viewed` when the scale has, `pulled` when the tile is. */
export class Sight extends EventTarget {
  constructor(store, elements) {
    super();
    this.store = store;
    this.view = new View();
    this.pictures = new Pictures(store.data);
    this.masks = new Masks(this.pictures);
    this.cloth = new Cloth(elements.weave, store, this.view, this.pictures);
    this.marks = new Marks(elements.marks, this.view);
    this.tapes = new Tapes(elements.tapeacross, elements.tapedown, this.view);
    /** What is picked: for each key the copy that was touched, { turn, i, j }. */
    this.picked = new Map();
    this.lies = new Map(Object.entries(store.data.lies));
    this.lie = null;
    this.seen = null;
    this.snap = true;
    /** The person's own unit of length, which the browser keeps. */
    this.unit = keptUnit() ?? unitOf(store.now.tile);
    this.carrying = null;
  }

  // ------------------------------------------------------------------ layout and looking

  /** How tiles of a size lie on a layout, as the server says. */
  async lieOf(layout, tile = this.store.now.tile) {
    // A gingham is mixed with its ground.
    const ground = this.store.data.blender ? this.store.now.ground : '';
    const key = `${layout} ${tile} ${ground}`;
    if (!this.lies.has(key)) this.lies.set(key, await link.post('lie', { layout, tile, ground }));
    return this.lies.get(key);
  }

  /** Show what the store has. */
  async show() {
    const { layout, tile } = this.store.now;
    // Other colourways are not other cloth.
    if (this.laid && layAlike(this.laid, this.store.now)) return;
    this.laid = this.store.now;
    const lie = await this.lieOf(layout, tile);
    if (this.store.now.layout !== layout || this.store.now.tile !== tile) return;
    await this.showLaid(lie);
  }

  /** Show what the store has on any layout, such as one that is being tried. */
  async showLaid(lie) {
    const before = this.lie;
    this.lie = lie;
    for (const key of this.picked.keys()) if (!this.store.now.rows.has(key)) this.picked.delete(key);
    if (before && before !== lie) {
      for (const copy of this.picked.values()) Object.assign(copy, { turn: 0, i: 0, j: 0 });
    }
    this.cloth.take(this.store.rows, lie);
    if (!before) {
      this.fit();
    } else if (before !== lie) {
      this.view.settle(this.view.middle, lie);
      this.home();
    }
    this.drawMarks();
    await this.cloth.refresh();
    this.dispatchEvent(new Event('picked'));
    this.dispatchEvent(new Event('viewed'));
  }

  resize(width, height, dpr, room) {
    const { view } = this;
    const known = view.width > 1;
    const was = known && this.lie ? view.toCloth(view.middle) : null;
    if (known && dpr !== view.dpr) {
      view.zx *= dpr / view.dpr;
      view.zy *= dpr / view.dpr;
    }
    Object.assign(view, { width, height, dpr, room });
    this.cloth.resize(width, height, dpr);
    this.marks.resize(width, height);
    if (was) {
      const [mx, my] = view.toPage(was);
      const [nx, ny] = view.middle;
      view.slide(nx - mx, ny - my);
      this.looked();
      this.settleSoon();
    }
  }

  /** Bring the tile to somewhat less than the room there is, in its middle. */
  fit() {
    const { view, lie } = this;
    const [width, height] = lie.tile;
    const { left, top, right, bottom } = view.room;
    const across = (view.width - left - right) / width;
    const down = (view.height - top - bottom) / height;
    view.zx = view.zy = Math.min(across, down) * 0.62 * view.dpr;
    view.settle(view.middle, lie);
    const [mx, my] = view.middle;
    const [px, py] = view.toPage([width / 2, height / 2]);
    view.slide(mx - px, my - py);
    view.square();
  }

  async refit() {
    this.fit();
    this.looked();
    await this.cloth.refresh();
    this.dispatchEvent(new Event('viewed'));
  }

  slide(dx, dy) {
    this.view.slide(dx, dy);
    this.view.square();
    this.looked();
  }

  /** Show the cloth at a scale, in CSS pixels to the mm, about the middle. */
  async lookAt(scale) {
    const { view } = this;
    view.zoom(scale / view.scale, view.middle, this.lie);
    await this.settle();
  }

  /** Bring a place of the cloth to the middle. */
  goTo(point) {
    const [x, y] = this.view.toPage(point);
    const [mx, my] = this.view.middle;
    this.slide(mx - x, my - y);
    this.settleSoon();
  }

  /** Whether the frame of a copy holds a place, or a copy of it does. */
  reaches(key, { turn, i, j }, [x, y]) {
    const row = this.rowOf(key);
    const motif = this.store.motifs.get(row.motif);
    const corners = frameOf(motif, times(this.lie.turns[turn], matrixOf(row, motif)), this.lie, i, j);
    const [x0, y0, x1, y1] = boundsOf(corners);
    return x >= x0 && x <= x1 && y >= y0 && y <= y1;
  }

  zoom(factor, about = this.view.middle) {
    if (this.carrying) return;
    this.view.zoom(factor, about, this.lie);
    this.looked();
    this.settleSoon(about);
    this.dispatchEvent(new Event('viewed'));
  }

  /** Show another part of the cloth. */
  looked() {
    if (!this.lie) return;
    this.cloth.paint();
    this.drawMarks();
    if (!this.cloth.covered) this.settleSoon();
  }

  settleSoon(about = this.view.middle) {
    clearTimeout(this.settling);
    this.settling = setTimeout(() => this.settle(about), SETTLE);
  }

  /** Come to rest: whole pixels, the middle on the marked tile, a picture of its own. */
  async settle(about = this.view.middle) {
    clearTimeout(this.settling);
    if (this.carrying || !this.lie) return;
    const { still } = this.cloth;
    this.view.settle(about, this.lie);
    this.home();
    this.looked();
    const same = still && still.lie === this.lie && still.zx === this.view.zx && still.zy === this.view.zy;
    if (!same || !this.cloth.covered) await this.cloth.refresh();
    this.dispatchEvent(new Event('viewed'));
  }

  home() {
    const [i, j] = this.view.home(this.lie);
    if (!i && !j) return;
    this.view.square();
    for (const copy of this.picked.values()) {
      copy.i -= i;
      copy.j -= j;
    }
    // A picture of the window was drawn where the view was.
    const { still } = this.cloth;
    if (still && !still.whole) {
      const [dx, dy] = at(this.lie, i, j);
      still.px[0] -= Math.round(dx * still.zx);
      still.px[1] -= Math.round(dy * still.zy);
    }
  }

  drawMarks(rows = null) {
    this.marks.drawTiles(this.lie, this.lie.tile);
    this.marks.drawFrames(this.frames(rows));
    this.marks.drawFound(this.lie, this.seen);
    this.tapes.paint(this.lie, this.unit);
  }

  // ------------------------------------------------------------------ picking

  rowOf(key, rows = null) {
    return rows?.get(key) ?? this.carrying?.extra.get(key) ?? this.store.now.rows.get(key);
  }

  /** Corners of the frames about what is picked, in mm. */
  frames(rows = null) {
    return [...this.picked].map(([key, { turn, i, j }]) => {
      const row = this.rowOf(key, rows);
      const motif = this.store.motifs.get(row.motif);
      return frameOf(motif, times(this.lie.turns[turn], matrixOf(row, motif)), this.lie, i, j);
    });
  }

  /** Whether hands and tosses pass over it. */
  isPinned(key) {
    return Boolean(this.store.now.rows.get(key)?.pinned);
  }

  keyAt(placement) {
    return this.store.now.order[Math.floor(placement / this.lie.turns.length)];
  }

  /** The topmost motif at a point of the page, as { key, copy }, or null. */
  motifAt(point, reach) {
    const loose = (k) => !this.isPinned(this.keyAt(k));
    const hit = this.masks.hit(this.cloth.placements, this.lie, this.view.toCloth(point), reach / this.view.scale, loose);
    return hit && { key: this.keyAt(hit.k), copy: { turn: hit.turn, i: hit.i, j: hit.j } };
  }

  pick(key, copy, { more = false } = {}) {
    if (!more) this.picked.clear();
    this.picked.set(key, copy);
    this.repicked();
  }

  unpick(key) {
    this.picked.delete(key);
    this.repicked();
  }

  pickNone() {
    this.picked.clear();
    this.repicked();
  }

  pickAll() {
    for (const key of this.store.now.order) if (!this.picked.has(key)) this.picked.set(key, this.nearestCopy(key));
    this.repicked();
  }

  /** Pick everything whose middle lies in a box of the page. */
  pickWithin([x0, y0, x1, y1], more) {
    if (!more) this.picked.clear();
    const region = [...this.view.toCloth([x0, y0]), ...this.view.toCloth([x1, y1])];
    for (const [k, i, j] of copies(this.cloth.placements, this.lie, region)) {
      const { matrix, motif, turn } = this.cloth.placements[k];
      const [dx, dy] = at(this.lie, i, j);
      const [x, y] = apply(matrix, middleOf(motif));
      const within = x + dx >= region[0] && x + dx <= region[2] && y + dy >= region[1] && y + dy <= region[3];
      if (within && !this.isPinned(this.keyAt(k)) && !this.picked.has(this.keyAt(k))) this.picked.set(this.keyAt(k), { turn, i, j });
    }
    this.repicked();
  }

  /** The copy of a placement whose middle is nearest to what is looked at. */
  nearestCopy(key) {
    const row = this.rowOf(key);
    const motif = this.store.motifs.get(row.motif);
    const from = apply(matrixOf(row, motif), middleOf(motif));
    const [mx, my] = this.view.toCloth(this.view.middle);
    const [u, v] = steps(this.lie, [mx - from[0], my - from[1]]);
    let best = null;
    for (const i of [Math.floor(u), Math.ceil(u)]) {
      for (const j of [Math.floor(v), Math.ceil(v)]) {
        const [dx, dy] = at(this.lie, i, j);
        const far = Math.hypot(from[0] + dx - mx, from[1] + dy - my);
        if (!best || far < best.far) best = { far, copy: { turn: 0, i, j } };
      }
    }
    return best.copy;
  }

  /** Pick the next motif in stacking order, or the one before. */
  pickNext(by) {
    const { order } = this.store.now;
    if (!order.length) return;
    const last = [...this.picked.keys()].at(-1);
    const from = last ? order.indexOf(last) : by > 0 ? -1 : 0;
    const key = order[(from + by + order.length) % order.length];
    this.pick(key, this.nearestCopy(key));
    this.bringIntoSight();
    this.say(this.describe(key));
  }

  bringIntoSight() {
    const [x0, y0, x1, y1] = boundsOf(this.frames().flat().map((p) => this.view.toPage(p)));
    const { left, top, right, bottom } = this.view.room;
    const [cx, cy] = [(x0 + x1) / 2, (y0 + y1) / 2];
    const out = cx < left || cy < top || cx > this.view.width - right || cy > this.view.height - bottom;
    if (out) this.slide(this.view.middle[0] - cx, this.view.middle[1] - cy);
  }

  repicked() {
    this.drawMarks();
    this.dispatchEvent(new Event('picked'));
  }

  describe(key) {
    const row = this.rowOf(key);
    const [x, y] = row.at ?? middleOf(this.store.motifs.get(row.motif));
    const { order } = this.store.now;
    return `${row.motif}, at ${rounded(x, 1)}, ${rounded(y, 1)} mm, ${order.indexOf(key) + 1} of ${order.length} from below`;
  }

  say(text) {
    this.store.notice(text);
  }
}
