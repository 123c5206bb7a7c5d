// Snapping: a motif's middle drawn to the middles of others and to the tile's own lines.

import { apply, times, move } from './affine.js';
import { at, cellsIn } from './lattice.js';
import { middleOf } from './placements.js';

const NEAR = 6;

export class Snapping {
  /** What there is to snap to, for a middle in mm, while others lie where they are. */
  constructor(table, middle) {
    const { cloth, lie, view, picked } = table;
    this.middle = middle;
    this.within = NEAR / view.scale;
    const [xs, ys] = [new Set(), new Set()];
    const [width, height] = table.lie.tile;
    for (const [i, j] of cellsIn(lie, view.region)) {
      const [dx, dy] = at(lie, i, j);
      for (const share of [0, 0.5, 1]) {
        xs.add(dx + share * width);
        ys.add(dy + share * height);
      }
      cloth.placements.forEach((placement, k) => {
        if (picked.has(table.keyAt(k))) return;
        const [x, y] = apply(times(move(dx, dy), placement.matrix), middleOf(placement.motif));
        xs.add(x);
        ys.add(y);
      });
    }
    this.lines = [xs, ys].map((set) => Float64Array.from(set).sort());
  }

  /** A move with its snapping: { by: [dx, dy], guides: { x, y } }. */
  moved(by) {
    const guides = {};
    const snapped = [0, 1].map((axis) => {
      const place = this.middle[axis] + by[axis];
      const near = nearest(this.lines[axis], place);
      if (near === null || Math.abs(near - place) > this.within) return by[axis];
      guides['xy'[axis]] = near;
      return near - this.middle[axis];
    });
    return { by: snapped, guides };
  }
}

function nearest(sorted, value) {
  let [low, high] = [0, sorted.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (sorted[middle] < value) low = middle + 1;
    else high = middle;
  }
  const around = [sorted[low - 1], sorted[low]].filter((v) => v !== undefined);
  if (!around.length) return null;
  return around.reduce((a, b) => (Math.abs(b - value) < Math.abs(a - value) ? b : a));
}
