// Placements as a recipe's rows say them. The same as repeat/pose.py and sources/source.py, and
// tested against them; nothing here knows the page.

import { apply, boundsOf, cosSin, move, times } from './affine.js';
import { at, tileAt } from './lattice.js';

/** The middle of a motif's box in its own mm: what a placement's `at` puts somewhere. */
export function middleOf(motif) {
  const [x0, y0, x1, y1] = motif.box;
  return [(x0 + x1) / 2, (y0 + y1) / 2];
}

/** The map from a motif's own mm to the tile's, as the recipe's row says it. */
export function matrixOf(row, motif) {
  const middle = middleOf(motif);
  const at = row.at ?? middle;
  const scale = row.scale * (motif.size ?? 1);
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
    scale: rounded(Math.hypot(a, b) / (motif.size ?? 1), 4),
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

/** A place brought near the tile: no farther out than half a cell. */
export function homed(lie, [x, y]) {
  const [w, h] = lie.cell;
  if (x >= -w / 2 && x < 1.5 * w && y >= -h / 2 && y < 1.5 * h) return [x, y];
  const [i, j] = tileAt(lie, [x, y]);
  const [dx, dy] = at(lie, i, j);
  return [rounded(x - dx, 3), rounded(y - dy, 3)];
}
