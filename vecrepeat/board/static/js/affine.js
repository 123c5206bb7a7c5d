// Maps of the plane as SVG writes them, [a, b, c, d, e, f]: x' = a·x + c·y + e, y' = b·x + d·y + f.

/** The map that applies `n`, then `m`. */
export function times(m, n) {
  return [
    m[0] * n[0] + m[2] * n[1],
    m[1] * n[0] + m[3] * n[1],
    m[0] * n[2] + m[2] * n[3],
    m[1] * n[2] + m[3] * n[3],
    m[0] * n[4] + m[2] * n[5] + m[4],
    m[1] * n[4] + m[3] * n[5] + m[5],
  ];
}

export function inverse(m) {
  const [a, b, c, d, e, f] = m;
  const det = a * d - b * c;
  return [d / det, -b / det, -c / det, a / det, (c * f - d * e) / det, (b * e - a * f) / det];
}

export function apply(m, [x, y]) {
  return [m[0] * x + m[2] * y + m[4], m[1] * x + m[3] * y + m[5]];
}

export function move(dx, dy) {
  return [1, 0, 0, 1, dx, dy];
}

/** A turn by degrees clockwise and a scale about a point. */
export function turnAbout([x, y], degrees, scale = 1) {
  const [cos, sin] = cosSin(degrees);
  const turned = [cos * scale, sin * scale, -sin * scale, cos * scale, 0, 0];
  return times(times(move(x, y), turned), move(-x, -y));
}

/** A mirror left to right about an upright line. */
export function mirrorAbout(x) {
  return [-1, 0, 0, 1, 2 * x, 0];
}

/** Cosine and sine of degrees, exact at right angles: as in repeat/pose.py. */
export function cosSin(degrees) {
  const turn = ((degrees % 360) + 360) % 360;
  const quarters = Math.floor(turn / 90);
  const angle = ((turn - 90 * quarters) * Math.PI) / 180;
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)].map((v) => Math.round(v * 1e10) / 1e10);
  return [[cos, sin], [-sin, cos], [-cos, -sin], [sin, -cos]][quarters % 4];
}

export function boundsOf(points) {
  let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [x, y] of points) {
    if (x < x0) x0 = x;
    if (y < y0) y0 = y;
    if (x > x1) x1 = x;
    if (y > y1) y1 = y;
  }
  return [x0, y0, x1, y1];
}

/** The corners of a box [x0, y0, x1, y1], clockwise from the upper left. */
export function cornersOf([x0, y0, x1, y1]) {
  return [[x0, y0], [x1, y0], [x1, y1], [x0, y1]];
}
