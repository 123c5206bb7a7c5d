// The cloth on the screen. At rest it is one tile's picture, drawn whole and laid over the plane
// at whole pixels. While a hand moves motifs, what lies under and over them keeps still as
// pictures of its own, and only the moved copies are drawn, every one of them.

import { apply, boundsOf, cornersOf, inverse, times } from './affine.js';
import { at, cellsIn, copies } from './lattice.js';
import { placementsOf } from './placements.js';
import { pixelSteps } from './view.js';

/** The most pixels of a tile's picture; larger tiles are drawn where they are seen. */
const WHOLE = 5e6;
const MARGIN = 0.3;
/** The most boxes that are painted one by one while a hand moves motifs. */
const MOST_SPOTS = 120;

export class Cloth {
  constructor(canvas, store, view, pictures) {
    this.canvas = canvas;
    this.context = canvas.getContext('2d', { alpha: false, desynchronized: false });
    Object.assign(this, { store, view, pictures });
    this.still = null;
    /** A picture in the still's place while a colour is moved. */
    this.quick = null;
    /** Pictures side by side in its place, { still, from, to } in CSS pixels. */
    this.bands = null;
    this.lifted = null;
    this.lie = null;
    this.placements = [];
    this.layered = false;
    this.wanted = 0;
  }

  /** The ground's colour, or null. */
  get ground() {
    return this.store.ground?.[0] ?? null;
  }

  get opacity() {
    return this.store.ground?.[1] ?? 1;
  }

  /** Take what lies on the cloth now; the picture follows with `refresh`. */
  take(rows, lie) {
    this.lie = lie;
    this.placements = placementsOf(rows, this.store.motifs, lie.turns);
  }

  resize(width, height, dpr) {
    this.canvas.width = Math.round(width * dpr);
    this.canvas.height = Math.round(height * dpr);
  }

  /** Whether a tile's picture is small enough to be drawn whole. */
  get whole() {
    const [w, h] = this.cellPixels;
    return w * h <= WHOLE;
  }

  get cellPixels() {
    return [Math.round(this.lie.cell[0] * this.view.zx), Math.round(this.lie.cell[1] * this.view.zy)];
  }

  /**
   * A picture of some placements: of one tile, or of what is seen and a margin.
   *
   * What lies undermost has the ground in it, which some art blends with. It may be drawn from
   * other pictures and on another ground than the cloth's, and smaller.
   */
  async picture(placements, undermost, { pictures = this.pictures, ground = this.ground && [this.ground, this.opacity], shrink = 1 } = {}) {
    const { lie, view } = this;
    const { zx, zy } = view;
    let px;
    if (this.whole) {
      px = [0, 0, ...this.cellPixels];
    } else {
      const [w, h] = [this.canvas.width, this.canvas.height];
      px = [view.x * zx - w * MARGIN, view.y * zy - h * MARGIN].map(Math.round);
      px.push(Math.round(w * (1 + 2 * MARGIN)), Math.round(h * (1 + 2 * MARGIN)));
    }
    const shown = [px[0] / zx, px[1] / zy, px[2] / zx, px[3] / zy];
    const region = [shown[0], shown[1], shown[0] + shown[2], shown[1] + shown[3]];
    const drawn = copies(placements, lie, region).map(([k, i, j]) => {
      const { motif, matrix, turn } = placements[k];
      const [dx, dy] = at(lie, i, j);
      const outer = times([1, 0, 0, 1, dx, dy], lie.turns[turn]);
      const inner = lie.region ? times(inverse(lie.turns[turn]), matrix) : times([1, 0, 0, 1, dx, dy], matrix);
      return { motif, matrix: inner, outer };
    });
    if (undermost) drawn.unshift(...this.layersIn(region));
    const [w, h] = px.slice(2).map((side) => Math.max(1, Math.round(side * shrink)));
    const canvas = await pictures.draw(drawn, shown, w, h, { region: lie.region, ground: undermost && ground, spare: lie.pictures });
    return { canvas, px, zx, zy, lie, whole: this.whole };
  }

  /** The copies of a blender's layers that are seen, all of one before the next; none is turned. */
  layersIn(region) {
    return this.lie.under.flatMap((motif) => copies([{ box: motif.box }], this.lie, region).map(([, i, j]) => (
      { motif, matrix: [1, 0, 0, 1, ...at(this.lie, i, j)], outer: null })));
  }

  /** Draw the picture anew; resolves to whether it is shown (a later call may overtake it). */
  async refresh() {
    const turn = ++this.wanted;
    const made = await this.picture(this.placements, true);
    if (turn !== this.wanted) return false;
    this.still = made;
    this.quick = null;
    this.drop();
    this.paint();
    return true;
  }

  /** Whether what is seen is within the picture. */
  get covered() {
    const { still, view } = this;
    if (!still) return false;
    if (still.whole) return true;
    const [x, y] = [view.x * still.zx, view.y * still.zy];
    const [x0, y0, w, h] = still.px;
    return x >= x0 && y >= y0 && x + this.canvas.width <= x0 + w && y + this.canvas.height <= y0 + h;
  }

  /** Paint what is seen. */
  paint() {
    const { context, canvas, still } = this;
    context.setTransform(1, 0, 0, 1, 0, 0);
    this.bare();
    if (this.lifted) {
      this.paintLifted();
    } else if (this.bands) {
      this.layBands();
    } else if (still) {
      this.lay(context, this.quick ?? still);
    }
    return canvas;
  }

  /** Lay several pictures, each over a band of what is seen. */
  layBands() {
    const { context, canvas, view } = this;
    for (const { still, from, to } of this.bands) {
      context.save();
      context.beginPath();
      context.rect(from * view.dpr, 0, (to - from) * view.dpr, canvas.height);
      context.clip();
      context.fillStyle = '#ffffff';
      context.fillRect(0, 0, canvas.width, canvas.height);
      this.lay(context, still);
      context.restore();
    }
  }

  bare([x0, y0, x1, y1] = [0, 0, this.canvas.width, this.canvas.height]) {
    const { context } = this;
    context.fillStyle = '#ffffff';
    if (!this.ground || this.opacity < 1) context.fillRect(x0, y0, x1 - x0, y1 - y0);
    // A ground that is not opaque must not lie there twice: pictures have it in them.
    const first = this.lifted ? !this.lifted[0].lifted : this.still;
    if (this.ground && (this.opacity === 1 || !first)) {
      context.globalAlpha = this.opacity;
      context.fillStyle = this.ground;
      context.fillRect(x0, y0, x1 - x0, y1 - y0);
      context.globalAlpha = 1;
    }
  }

  /** Lay a picture over what is seen: once, or as often as its tile is seen. */
  lay(context, still) {
    const { view, canvas } = this;
    // While a hand zooms, the picture is stretched.
    const [sx, sy] = [view.zx / still.zx, view.zy / still.zy];
    const stretched = Math.abs(sx - 1) > 1e-9 || Math.abs(sy - 1) > 1e-9;
    const [ox, oy] = [view.x * view.zx, view.y * view.zy].map((v) => (stretched ? v : Math.round(v)));
    context.setTransform(sx, 0, 0, sy, -ox, -oy);
    if (!still.whole) {
      context.drawImage(still.canvas, ...still.px);
    } else {
      const step = pixelSteps(still.lie, still);
      const room = stretched ? 0.6 : 0;
      const [w, h] = [still.px[2] + room, still.px[3] + room];
      for (const [i, j] of cellsIn(still.lie, view.region)) {
        const [x, y] = step(i, j);
        if (stretched) context.drawImage(still.canvas, x, y, w, h);
        else context.drawImage(still.canvas, x, y, still.px[2], still.px[3]);
      }
    }
    context.setTransform(1, 0, 0, 1, 0, 0);
  }

  /**
   * Lift placements off the cloth, so that `carry` may move them.
   *
   * At first they are carried over all others, and their shadows stay where they lay; as soon as
   * what lies under and over them is drawn, they go between, and the shadows are gone.
   *
   * @param isLifted which: a test of a placement.
   * @param extra placements that do not lie on the cloth yet, over all others.
   */
  async lift(isLifted, extra = []) {
    // A picture that is being drawn would still show what is lifted now.
    const turn = ++this.wanted;
    const sprites = new Map();
    const layers = this.lie.under.length ? [{ lifted: false, placements: [], sprites }] : [];
    for (const placement of [...this.placements, ...extra]) {
      const lifted = extra.includes(placement) || isLifted(placement);
      if (layers.at(-1)?.lifted !== lifted) layers.push({ lifted, placements: [], sprites });
      layers.at(-1).placements.push(placement);
    }
    const hand = layers.filter((layer) => layer.lifted).flatMap((layer) => layer.placements);
    for (const { motif, matrix } of hand) {
      const density = Math.max(this.view.zx, this.view.zy) * Math.hypot(matrix[0], matrix[1]);
      sprites.set(motif, await this.pictures.sprite(motif, density));
    }
    if (turn !== this.wanted) return;
    const shown = new OffscreenCanvas(this.canvas.width, this.canvas.height);
    shown.getContext('2d').drawImage(this.canvas, 0, 0);
    this.lifted = [{ lifted: false, shown }, { lifted: true, placements: hand, sprites }];
    this.spots = null;
    this.layered = false;
    // Drawing holds the page up: the hand sees its motifs move first.
    shownFrame().then(() => this.#layer(layers, turn));
  }

  /** Draw what lies under and over what is lifted. */
  async #layer(layers, turn) {
    for (const layer of layers) {
      if (layer.lifted) continue;
      const still = turn === this.wanted && (await this.picture(layer.placements, layer === layers[0]));
      if (turn !== this.wanted) return;
      layer.shown = new OffscreenCanvas(this.canvas.width, this.canvas.height);
      this.lay(layer.shown.getContext('2d'), still);
    }
    const hand = [...this.lifted[1].placements];
    for (const layer of layers) {
      if (layer.lifted) layer.placements = layer.placements.map(() => hand.shift());
    }
    this.lifted = layers;
    this.spots = null;
    this.layered = true;
    this.paint();
  }

  /** Put other placements in the place of those in the hand, one for one, and paint. */
  carry(placements) {
    if (!this.lifted) return;
    let n = 0;
    for (const layer of this.lifted) {
      if (layer.lifted) layer.placements = layer.placements.map(() => placements[n++]);
    }
    const before = this.spots;
    this.spots = this.spotsOfLifted();
    this.paintSpots(before && this.spots ? apart([...before, ...this.spots]) : null);
  }

  /** The pixels that lifted copies are drawn on, as boxes; null where there are too many. */
  spotsOfLifted() {
    const { canvas, view } = this;
    const spots = [];
    for (const layer of this.lifted) {
      if (!layer.lifted) continue;
      for (const placement of layer.placements) {
        for (const { extent, dx, dy } of this.seenCopies(placement)) {
          const [x0, y0] = [(extent[0] + dx - view.x) * view.zx, (extent[1] + dy - view.y) * view.zy];
          const [x1, y1] = [(extent[2] + dx - view.x) * view.zx, (extent[3] + dy - view.y) * view.zy];
          spots.push([
            Math.max(0, Math.floor(x0) - 3),
            Math.max(0, Math.floor(y0) - 3),
            Math.min(canvas.width, Math.ceil(x1) + 3),
            Math.min(canvas.height, Math.ceil(y1) + 3),
          ]);
          if (spots.length > MOST_SPOTS) return null;
        }
      }
    }
    return spots;
  }

  /** Paint anew within some boxes that don't meet each other, or everything. */
  paintSpots(spots) {
    const { context } = this;
    if (!spots) {
      this.paint();
      return;
    }
    for (const [x0, y0, x1, y1] of spots) {
      context.save();
      context.beginPath();
      context.rect(x0, y0, x1 - x0, y1 - y0);
      context.clip();
      this.bare([x0, y0, x1, y1]);
      this.paintLifted([x0, y0, x1, y1]);
      context.restore();
    }
  }

  /** The copies of a placement that are seen: [{ extent, dx, dy }], extent in mm. */
  seenCopies({ motif, matrix }, region = this.view.region) {
    const extent = boundsOf(cornersOf(motif.extent).map((p) => apply(matrix, p)));
    return copies([{ box: extent }], this.lie, region).map(([, i, j]) => {
      const [dx, dy] = at(this.lie, i, j);
      return { extent, dx, dy };
    });
  }

  /** Let go of what is in the hand. */
  drop() {
    this.lifted = null;
    this.layered = false;
  }

  paintLifted(spot = null) {
    const { context, lie, view } = this;
    const { zx, zy } = view;
    const [ox, oy] = [view.x * zx, view.y * zy];
    const region = spot
      ? [view.x + spot[0] / zx, view.y + spot[1] / zy, view.x + spot[2] / zx, view.y + spot[3] / zy]
      : view.region;
    for (const layer of this.lifted) {
      if (!layer.lifted) {
        if (spot) {
          const box = [spot[0], spot[1], spot[2] - spot[0], spot[3] - spot[1]];
          context.drawImage(layer.shown, ...box, ...box);
        } else {
          context.drawImage(layer.shown, 0, 0);
        }
        continue;
      }
      for (const placement of layer.placements) {
        const { motif, matrix, turn } = placement;
        const { canvas, box } = layer.sprites.get(motif);
        for (const { dx, dy } of this.seenCopies(placement, region)) {
          if (lie.region) this.cut(times([1, 0, 0, 1, dx, dy], lie.turns[turn]));
          const [a, b, c, d, e, f] = times([1, 0, 0, 1, dx, dy], matrix);
          context.setTransform(a * zx, b * zy, c * zx, d * zy, e * zx - ox, f * zy - oy);
          context.drawImage(canvas, ...box);
          if (lie.region) context.restore();
        }
      }
      context.setTransform(1, 0, 0, 1, 0, 0);
    }
  }

  cut(outer) {
    const { context, view } = this;
    context.save();
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.beginPath();
    for (const point of this.lie.region) {
      const [x, y] = apply(outer, point);
      context.lineTo((x - view.x) * view.zx, (y - view.y) * view.zy);
    }
    context.clip();
  }
}

/** Resolves once what has been painted is on the screen. */
function shownFrame() {
  return new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
}

/** Boxes of which none meet, that cover others. */
function apart(boxes) {
  const left = [...boxes];
  const found = [];
  while (left.length) {
    let box = left.pop();
    for (let k = 0; k < left.length; k++) {
      const other = left[k];
      if (box[0] >= other[2] || box[2] <= other[0] || box[1] >= other[3] || box[3] <= other[1]) continue;
      box = [Math.min(box[0], other[0]), Math.min(box[1], other[1]), Math.max(box[2], other[2]), Math.max(box[3], other[3])];
      left.splice(k, 1);
      k = -1;
    }
    // What was set aside may meet what has grown.
    const met = found.findIndex((other) => box[0] < other[2] && box[2] > other[0] && box[1] < other[3] && box[3] > other[1]);
    if (met >= 0) left.push(box, ...found.splice(met, 1));
    else if (box[2] > box[0] && box[3] > box[1]) found.push(box);
  }
  return found;
}
