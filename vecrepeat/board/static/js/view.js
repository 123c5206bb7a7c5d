// How the cloth is looked at: which mm lies at the page's corner, and how large a mm is.

import { at, tileAt } from './lattice.js';

const [SMALLEST, LARGEST] = [24, 24000];

export class View {
  constructor() {
    this.x = 0;
    this.y = 0;
    /** Device pixels per mm, across and down; they differ by less than half a pixel in a tile. */
    this.zx = 1;
    this.zy = 1;
    this.dpr = 1;
    this.width = 1;
    this.height = 1;
    /** What covers the cloth's sides, in CSS pixels: the middle is between. */
    this.room = { left: 0, top: 0, right: 0, bottom: 0 };
  }

  toCloth([px, py]) {
    return [this.x + (px * this.dpr) / this.zx, this.y + (py * this.dpr) / this.zy];
  }

  toPage([x, y]) {
    return [((x - this.x) * this.zx) / this.dpr, ((y - this.y) * this.zy) / this.dpr];
  }

  get middle() {
    const { left, top, right, bottom } = this.room;
    return [(left + this.width - right) / 2, (top + this.height - bottom) / 2];
  }

  /** CSS pixels per mm. */
  get scale() {
    return Math.sqrt(this.zx * this.zy) / this.dpr;
  }

  /** The mm that are seen. */
  get region() {
    const [x1, y1] = this.toCloth([this.width, this.height]);
    return [this.x, this.y, x1, y1];
  }

  slide(dx, dy) {
    this.x -= (dx * this.dpr) / this.zx;
    this.y -= (dy * this.dpr) / this.zy;
  }

  /** Zoom about a point of the page, freely. */
  zoom(factor, about, lie) {
    const widest = Math.max(...lie.cell);
    const least = (SMALLEST * this.dpr) / (widest * this.zx);
    const most = (LARGEST * this.dpr) / (widest * this.zx);
    const by = Math.min(Math.max(factor, least), most);
    const before = this.toCloth(about);
    this.zx *= by;
    this.zy *= by;
    const after = this.toCloth(about);
    this.x += before[0] - after[0];
    this.y += before[1] - after[1];
  }

  /**
   * Bring the scale to one at which the tile is a whole number of pixels, as an export does: then
   * one tile's picture repeats exactly. The scale changes by at most half a percent.
   */
  settle(about, lie) {
    const before = this.toCloth(about);
    const [w, h] = wholeTile(lie, (this.zx + this.zy) / 2);
    this.zx = w / lie.cell[0];
    this.zy = h / lie.cell[1];
    const after = this.toCloth(about);
    this.x += before[0] - after[0];
    this.y += before[1] - after[1];
    this.square();
  }

  /** Bring the corner to a whole pixel. */
  square() {
    this.x = Math.round(this.x * this.zx) / this.zx;
    this.y = Math.round(this.y * this.zy) / this.zy;
  }

  /** Go to where the middle lies on the marked tile: the cloth looks the same. Returns (i, j). */
  home(lie) {
    const [i, j] = tileAt(lie, this.toCloth(this.middle));
    const [dx, dy] = at(lie, i, j);
    this.x -= dx;
    this.y -= dy;
    return [i, j];
  }
}

/** The cell's size in whole pixels nearest to a scale, and to its own proportions. */
export function wholeTile(lie, scale) {
  const [width, height] = lie.cell;
  const across = lie.kind === 'brick' && lie.steps <= 12 ? lie.steps : 1;
  const down = lie.kind === 'drop' && lie.steps <= 12 ? lie.steps : 1;
  const to = (value, grain) => Math.max(grain, Math.round(value / grain) * grain);
  let best = null;
  const wanted = width * scale;
  const [low, high] = [to(wanted * 0.995, across), to(wanted * 1.005, across)];
  for (let w = low; w <= high; w += across) {
    const exact = (w * height) / width;
    const h = to(exact, down);
    const cost = Math.abs(h - exact) / exact + Math.abs(w - wanted) / wanted / 20;
    if (!best || cost < best.cost) best = { w, h, cost };
  }
  return [best.w, best.h];
}

/** The lattice in whole pixels. */
export function pixelSteps(lie, view) {
  return (i, j) => {
    const [x, y] = at(lie, i, j);
    return [Math.round(x * view.zx), Math.round(y * view.zy)];
  };
}
