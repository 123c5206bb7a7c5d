// The endless cloth's mathematics: where every copy lies. The same as vecrepeat/wrap.py and
// vecrepeat/sources.py, and tested against them; nothing here knows the page.

import { apply, boundsOf, cosSin, move, times } from './affine.js';

/** Depth in mm that an outline must reach into a region to count: touching makes no copy. */
export const CONTACT = 1e-6;

/** The middle of a motif's box in its own mm: what a placement's `at` puts somewhere. */
export function middleOf(motif) {
  const [x0, y0, x1, y1] = motif.box;
  return [(x0 + x1) / 2, (y0 + y1) / 2];
}

/** The map from a motif's own mm to the tile's, as the recipe's row says it. */
export function matrixOf(row, motif) {
  const middle = middleOf(motif);
  const at = row.at ?? middle;
  const { scale } = row;
  if (scale === 1 && row.turn % 360 === 0 && !row.flip) {
    return move(at[0] - middle[0], at[1] - middle[1]);
  }
  const [cos, sin] = cosSin(row.turn);
  const across = row.flip ? -scale : scale;
  const turned = [cos * across, sin * across, -sin * scale, cos * scale, at[0], at[1]];
  return times(turned, move(-middle[0], -middle[1]));
}

/** The row that says a map; the inverse of matrixOf up to rounding to what a recipe keeps. */
export function rowOf(matrix, motif) {
  const [a, b, c, d] = matrix;
  const flip = a * d - b * c < 0;
  const sign = flip ? -1 : 1;
  const turn = (Math.atan2(b * sign, a * sign) * 180) / Math.PI;
  return {
    motif: motif.name,
    at: apply(matrix, middleOf(motif)).map((v) => rounded(v, 3)),
    turn: rounded(((turn % 360) + 360) % 360, 2) % 360,
    scale: rounded(Math.hypot(a, b), 4),
    flip,
  };
}

export function rounded(value, decimals) {
  const tens = 10 ** decimals;
  return Math.round(value * tens) / tens + 0;
}

/**
 * Rows as the layout turns them: one placement for each row and turn, in stacking order.
 *
 * Each has its map to the cloth, the hull of its painted area and the hull's bounds, in mm.
 */
export function placementsOf(rows, motifs, turns) {
  const found = [];
  for (const row of rows) {
    const motif = motifs.get(row.motif);
    const own = matrixOf(row, motif);
    for (let turn = 0; turn < turns.length; turn++) {
      const matrix = times(turns[turn], own);
      const hull = motif.hull.map((point) => apply(matrix, point));
      found.push({ row, motif, turn, matrix, hull, box: boundsOf(hull) });
    }
  }
  return found;
}

/** The vector i·a + j·b. */
export function at(lie, i, j) {
  return [i * lie.a[0] + j * lie.b[0], i * lie.a[1] + j * lie.b[1]];
}

/** The lattice coordinates of a vector, not whole. */
export function steps(lie, [x, y]) {
  const [[ax, ay], [bx, by]] = [lie.a, lie.b];
  const det = ax * by - ay * bx;
  return [(x * by - y * bx) / det, (y * ax - x * ay) / det];
}

/** Ranges [first, last] of i and j under which a box can reach a region. */
export function stepsBetween(lie, box, region) {
  const i = [];
  const j = [];
  for (const x of [region[0] - box[2], region[2] - box[0]]) {
    for (const y of [region[1] - box[3], region[3] - box[1]]) {
      const [u, v] = steps(lie, [x, y]);
      i.push(u);
      j.push(v);
    }
  }
  return [
    [Math.floor(Math.min(...i)), Math.ceil(Math.max(...i))],
    [Math.floor(Math.min(...j)), Math.ceil(Math.max(...j))],
  ];
}

/** Whether a convex hull meets a box: the separating axes are the hull's edges and the box's. */
function meets(hull, bounds, box) {
  const [x0, y0, x1, y1] = box;
  if (bounds[0] > x1 || bounds[2] < x0 || bounds[1] > y1 || bounds[3] < y0) return false;
  for (let k = 0; k < hull.length; k++) {
    const [px, py] = hull[k];
    const [qx, qy] = hull[(k + 1) % hull.length];
    const [nx, ny] = [py - qy, qx - px];
    let [low, high] = [Infinity, -Infinity];
    for (const [x, y] of hull) {
      const along = nx * x + ny * y;
      if (along < low) low = along;
      if (along > high) high = along;
    }
    const [xs, ys] = [nx > 0 ? [x0, x1] : [x1, x0], ny > 0 ? [y0, y1] : [y1, y0]];
    if (nx * xs[1] + ny * ys[1] < low || nx * xs[0] + ny * ys[0] > high) return false;
  }
  return true;
}

/**
 * Every copy whose hull meets a region, as [placement, i, j], in stacking order: by placement,
 * then by lattice index. A hull is at least the painted area, so no copy is ever missing.
 */
export function copies(placements, lie, region) {
  const inner = [
    region[0] + CONTACT,
    region[1] + CONTACT,
    region[2] - CONTACT,
    region[3] - CONTACT,
  ];
  const found = [];
  if (inner[2] <= inner[0] || inner[3] <= inner[1]) return found;
  placements.forEach((placement, k) => {
    const [is, js] = stepsBetween(lie, placement.box, inner);
    for (let i = is[0]; i <= is[1]; i++) {
      for (let j = js[0]; j <= js[1]; j++) {
        const [dx, dy] = at(lie, i, j);
        const box = [inner[0] - dx, inner[1] - dy, inner[2] - dx, inner[3] - dy];
        if (meets(placement.hull, placement.box, box)) found.push([k, i, j]);
      }
    }
  });
  return found;
}

/** A place brought near the tile: no farther out than half a cell. */
export function homed(lie, [x, y]) {
  const [w, h] = lie.cell;
  if (x >= -w / 2 && x < 1.5 * w && y >= -h / 2 && y < 1.5 * h) return [x, y];
  const [i, j] = tileAt(lie, [x, y]);
  const [dx, dy] = at(lie, i, j);
  return [rounded(x - dx, 3), rounded(y - dy, 3)];
}

/** The lattice index of the cell that holds a place. */
export function tileAt(lie, [x, y]) {
  const [w, h] = lie.cell;
  if (lie.kind === 'brick') {
    const j = Math.floor(y / h);
    return [Math.floor((x - j * lie.b[0]) / w), j];
  }
  const i = Math.floor(x / w);
  return [i, Math.floor((y - i * lie.a[1]) / h)];
}
