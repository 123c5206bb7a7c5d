// Where a motif is painted, coarsely: for seeing which motif a finger means.

import { apply, inverse, times } from './affine.js';
import { at, copies } from './lattice.js';

const LONGEST = 128;

export class Masks {
  constructor(pictures) {
    this.pictures = pictures;
    this.found = new Map();
  }

  /** Make a motif's mask, and hand on the small picture that it is made from. */
  async make(motif) {
    const [x0, y0, x1, y1] = motif.extent;
    const density = LONGEST / Math.max(x1 - x0, y1 - y0);
    const [w, h] = [Math.ceil((x1 - x0) * density), Math.ceil((y1 - y0) * density)].map((v) => Math.max(1, v));
    const view = [x0, y0, x1 - x0, y1 - y0];
    const canvas = await this.pictures.draw([{ motif, matrix: [1, 0, 0, 1, 0, 0] }], view, w, h);
    const pixels = canvas.getContext('2d').getImageData(0, 0, w, h).data;
    const painted = new Uint8Array(w * h);
    for (let k = 0; k < painted.length; k++) painted[k] = pixels[4 * k + 3] > 24 ? 1 : 0;
    this.found.set(motif, { w, h, view, painted });
    return canvas;
  }

  /** Whether a motif is painted within `reach` mm of a point of its own. */
  painted(motif, [x, y], reach) {
    const mask = this.found.get(motif);
    if (!mask) return true;
    const { w, h, view, painted } = mask;
    const [u, v] = [((x - view[0]) / view[2]) * w, ((y - view[1]) / view[3]) * h];
    const [ru, rv] = [(reach / view[2]) * w + 0.5, (reach / view[3]) * h + 0.5];
    for (let row = Math.max(0, Math.floor(v - rv)); row <= Math.min(h - 1, v + rv); row++) {
      for (let column = Math.max(0, Math.floor(u - ru)); column <= Math.min(w - 1, u + ru); column++) {
        if (painted[row * w + column]) return true;
      }
    }
    return false;
  }

  /** The topmost copy, of the placements to look at, painted within `reach` mm of a point, or null. */
  hit(placements, lie, point, reach, isLooked) {
    const [x, y] = point;
    const r = Math.max(reach, 1e-3);
    const near = copies(placements, lie, [x - r, y - r, x + r, y + r]).filter(([k]) => isLooked(k));
    for (const close of reach > 0 ? [0, reach] : [0]) {
      for (let n = near.length - 1; n >= 0; n--) {
        const [k, i, j] = near[n];
        const placement = placements[k];
        const [dx, dy] = at(lie, i, j);
        const back = inverse(times([1, 0, 0, 1, dx, dy], placement.matrix));
        const scale = Math.hypot(placement.matrix[0], placement.matrix[1]);
        if (this.painted(placement.motif, apply(back, point), close / scale)) {
          return { k, i, j, turn: placement.turn };
        }
      }
    }
    return null;
  }
}
