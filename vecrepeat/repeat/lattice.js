// The endless cloth's mathematics for a page: where every copy lies. The same as repeat/wrap.py,
// and tested against it; nothing here knows the page. A `lie` is what Layout.as_dict says.

/** Depth in mm that an outline must reach into a region to count: touching makes no copy. */
const CONTACT = 1e-6;

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
function stepsBetween(lie, box, region) {
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

/**
 * Whether a convex hull within its bounds meets a box: the separating axes are the hull's edges
 * and the box's. Without a hull its bounds decide.
 */
function meets({ hull = [], box: bounds }, box) {
  const [x0, y0, x1, y1] = box;
  if (bounds[0] > x1 || bounds[2] < x0 || bounds[1] > y1 || bounds[3] < y0) return false;
  // Most of a tile's motifs lie within it whole.
  if (bounds[0] >= x0 && bounds[2] <= x1 && bounds[1] >= y0 && bounds[3] <= y1) return true;
  // All of a hull lies on one side of each of its edges, the same all round.
  const side = Math.sign(twiceArea(hull));
  for (let k = 0; k < hull.length; k++) {
    const [px, py] = hull[k];
    const [qx, qy] = hull[(k + 1) % hull.length];
    const [nx, ny] = [qy - py, px - qx];
    const edge = nx * px + ny * py;
    const [xs, ys] = [nx > 0 ? [x0, x1] : [x1, x0], ny > 0 ? [y0, y1] : [y1, y0]];
    if (side >= 0 && nx * xs[0] + ny * ys[0] > edge) return false;
    if (side <= 0 && nx * xs[1] + ny * ys[1] < edge) return false;
  }
  return true;
}

/** Twice a polygon's area, its sign saying which way round it goes; 0 for a line. */
function twiceArea(corners) {
  let sum = 0;
  for (let k = 0; k < corners.length; k++) {
    const [px, py] = corners[k];
    const [qx, qy] = corners[(k + 1) % corners.length];
    sum += px * qy - qx * py;
  }
  return sum;
}

/**
 * Every copy whose hull, or box, meets a region, as [placement, i, j], in stacking order: by
 * placement, then by lattice index. It is at least the painted area, so no copy is ever missing.
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
        if (meets(placement, box)) found.push([k, i, j]);
      }
    }
  });
  return found;
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

/** The steps [i, j] of every cell that meets a region in mm. */
export function cellsIn(lie, region) {
  return copies([{ box: [0, 0, ...lie.cell] }], lie, region).map(([, i, j]) => [i, j]);
}
