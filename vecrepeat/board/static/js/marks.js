// What lies on the cloth without being of it: basting along the joins, pins, chalk.

import { apply, cornersOf, times, move, boundsOf } from './affine.js';
import { at, cellsIn } from './lattice.js';
import { inUnit } from './lengths.js';

const SVG = 'http://www.w3.org/2000/svg';

function make(tag, attributes, parent) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  parent?.append(element);
  return element;
}

function pathOf(points) {
  return `M${points.map(([x, y]) => `${x.toFixed(2)} ${y.toFixed(2)}`).join('L')}Z`;
}

export class Marks {
  constructor(svg, view) {
    this.view = view;
    this.svg = svg;
    this.found = make('g', { class: 'found' }, svg);
    this.joins = make('path', { class: 'joins' }, svg);
    this.tile = make('g', { class: 'tile' }, svg);
    make('path', { class: 'under' }, this.tile);
    make('path', { class: 'stitch' }, this.tile);
    // Lines across the whole page: boxes that are only moved cost no painting.
    this.guides = [...svg.parentElement.querySelectorAll('.guide')];
    this.frames = make('g', { class: 'frames' }, svg);
    this.chalk = make('rect', { class: 'chalk' }, svg);
    this.knots = [[1, 0.5, { down: 0 }], [0.5, 1, { across: 0 }], [1, 1, {}]].map(([x, y, edge]) => ({ x, y, mark: this.#knot(edge) }));
    this.size = make('text', { class: 'size' }, svg);
    this.pins = { turn: this.#pin('turn', 'Turn'), scale: this.#pin('scale', 'Scale') };
    this.showJoins = true;
  }

  #pin(kind, word) {
    const pin = make('g', { class: `pin ${kind}`, 'data-pin': kind }, this.svg);
    make('circle', { class: 'target', r: 22 }, pin);
    make('line', { class: 'needle' }, pin);
    make('circle', { class: 'head', r: 9 }, pin);
    const signs = {
      turn: 'M-4.2 1.2A4.4 4.4 0 1 1 1 4.3M1 4.3l-1-2.6M1 4.3l-2.7 .6',
      scale: 'M-3.4 -3.4L3.4 3.4M3.4 0V3.4H0M-3.4 0V-3.4H0',
    };
    make('path', { class: 'sign', d: signs[kind] }, pin);
    make('title', {}, pin).textContent = word;
    return pin;
  }

  /** A knot of the basting, by which the tile is pulled. */
  #knot(edge) {
    const knot = make('g', { class: 'knot', 'data-knot': JSON.stringify(edge) }, this.svg);
    make('circle', { class: 'target', r: 22 }, knot);
    make('circle', { class: 'head', r: 7 }, knot);
    make('title', {}, knot).textContent = 'Pull to change the tile’s size';
    return knot;
  }

  /** Whether the tile can be pulled: its knots are shown then. */
  get sizing() {
    return this.svg.classList.contains('sizing');
  }

  set sizing(on) {
    this.svg.classList.toggle('sizing', on);
  }

  /** Say the tile's size at its lower right corner, or nothing for null. */
  showSize(tile, unit) {
    this.size.style.display = tile ? '' : 'none';
    this.svg.classList.toggle('pulled', Boolean(tile));
    if (!tile) return;
    this.size.textContent = `${tile.map((side) => inUnit(side, unit)).join(' × ')} ${unit}`;
    const [x, y] = this.view.toPage(tile);
    this.size.setAttribute('x', Math.min(x + 14, this.view.width - this.view.room.right - 150));
    this.size.setAttribute('y', Math.min(y + 24, this.view.height - this.view.room.bottom - 12));
  }

  resize(width, height) {
    this.svg.setAttribute('viewBox', `0 0 ${width} ${height}`);
  }

  /** Draw the marked tile and, faintly, all others that are seen. */
  drawTiles(lie, page) {
    const { view } = this;
    const corners = (dx, dy, [w, h]) => cornersOf([dx, dy, dx + w, dy + h]).map((p) => view.toPage(p));
    const home = pathOf(corners(0, 0, page));
    for (const path of this.tile.children) path.setAttribute('d', home);
    this.tile.style.display = this.showJoins ? '' : 'none';
    for (const { x, y, mark } of this.knots) {
      mark.setAttribute('transform', `translate(${view.toPage([x * page[0], y * page[1]]).join(' ')})`);
    }
    const cells = this.showJoins ? cellsIn(lie, view.region) : [];
    const d = cells.length > 400 ? '' : cells.map(([i, j]) => pathOf(corners(...at(lie, i, j), lie.cell))).join('');
    this.joins.setAttribute('d', d);
  }

  /** Draw frames about what is picked, and its pins. */
  drawFrames(frames) {
    const { view } = this;
    const shown = frames.map((frame) => frame.map((p) => view.toPage(p)));
    while (this.frames.children.length < 2 * shown.length) make('path', { class: this.frames.children.length % 2 ? 'line' : 'under' }, this.frames);
    while (this.frames.children.length > 2 * shown.length) this.frames.lastChild.remove();
    shown.forEach((corners, k) => {
      this.frames.children[2 * k].setAttribute('d', pathOf(corners));
      this.frames.children[2 * k + 1].setAttribute('d', pathOf(corners));
    });
    this.handles = null;
    if (!shown.length) {
      for (const pin of Object.values(this.pins)) pin.style.display = 'none';
      return;
    }
    const corners = shown.length === 1 ? shown[0] : cornersOf(boundsOf(shown.flat()));
    const middle = [(corners[0][0] + corners[2][0]) / 2, (corners[0][1] + corners[2][1]) / 2];
    const top = [(corners[0][0] + corners[1][0]) / 2, (corners[0][1] + corners[1][1]) / 2];
    this.handles = { middle };
    this.#put('turn', top, middle, 34);
    this.#put('scale', corners[2], middle, 24);
  }

  #put(kind, [x, y], [mx, my], out) {
    const far = Math.hypot(x - mx, y - my) || 1;
    const [ux, uy] = far > 1e-6 ? [(x - mx) / far, (y - my) / far] : [0, -1];
    const head = [x + ux * out, y + uy * out];
    const pin = this.pins[kind];
    pin.style.display = '';
    pin.setAttribute('transform', `translate(${head[0]} ${head[1]})`);
    const needle = pin.querySelector('.needle');
    needle.setAttribute('x2', x - head[0]);
    needle.setAttribute('y2', y - head[1]);
    this.handles[kind] = head;
  }

  drawGuides({ x, y }) {
    const { view } = this;
    const [px, py] = view.toPage([x ?? 0, y ?? 0]);
    const [upright, level] = this.guides;
    upright.style.visibility = x === undefined ? 'hidden' : 'visible';
    level.style.visibility = y === undefined ? 'hidden' : 'visible';
    upright.style.transform = `translateX(${Math.round(px)}px)`;
    level.style.transform = `translateY(${Math.round(py)}px)`;
  }

  drawChalk(box) {
    this.chalk.style.display = box ? '' : 'none';
    if (!box) return;
    const names = ['x', 'y', 'width', 'height'];
    [box[0], box[1], box[2] - box[0], box[3] - box[1]].forEach((v, k) => this.chalk.setAttribute(names[k], v));
  }

  /** Draw what looking has found, wherever it is seen. */
  drawFound(lie, seen) {
    this.found.replaceChildren();
    if (!seen) return;
    const { view } = this;
    const [dx, dy] = view.toPage([0, 0]);
    const scale = [view.zx / view.dpr, view.zy / view.dpr];
    const root = make('g', { transform: `matrix(${scale[0]} 0 0 ${scale[1]} ${dx} ${dy})` }, this.found);
    const once = make('g', { id: 'seenonce' });
    for (const { rings } of seen.clearance?.over ?? []) make('path', { class: 'see-over', d: rings.map(pathOf).join('') }, once);
    for (const { line } of seen.clearance?.near ?? []) {
      const ends = line.length > 1 ? line : [line[0], line[0]];
      make('path', { class: 'see-near', d: `M${ends[0].join(' ')}L${ends[1].join(' ')}` }, once);
    }
    for (const { x, y, radius, far } of seen.voids?.circles ?? []) {
      make('circle', { class: far ? 'see-void far' : 'see-void', cx: x, cy: y, r: radius }, once);
    }
    if (seen.place) make('circle', { class: 'see-place', cx: seen.place.x, cy: seen.place.y, r: seen.place.radius }, once);
    const [x0, y0, x1, y1] = view.region;
    const grown = [x0 - lie.cell[0], y0 - lie.cell[1], x1 + lie.cell[0], y1 + lie.cell[1]];
    if (once.children.length) {
      root.append(once);
      for (const [i, j] of cellsIn(lie, grown)) {
        if (i || j) make('use', { href: '#seenonce', transform: `translate(${at(lie, i, j).join(' ')})` }, root);
      }
    }
    this.#lanes(root, seen.alleys?.lanes ?? [], seen.alleys?.limit ?? 0);
  }

  /** Lanes have no end: each is drawn across all that is seen, and again each period across. */
  #lanes(root, lanes, limit) {
    const [x0, y0, x1, y1] = this.view.region;
    const reach = Math.hypot(x1 - x0, y1 - y0);
    const middle = [(x0 + x1) / 2, (y0 + y1) / 2];
    for (const lane of lanes) {
      const length = Math.hypot(...lane.vector_mm);
      const unit = lane.vector_mm.map((v) => v / length);
      const normal = [-unit[1], unit[0]];
      const [cx, cy] = lane.centre_mm;
      const place = cx * normal[0] + cy * normal[1];
      const seenAt = middle[0] * normal[0] + middle[1] * normal[1];
      const turns = Math.ceil(reach / lane.period_mm);
      const nearest = Math.round((seenAt - place) / lane.period_mm);
      for (let n = nearest - turns; n <= nearest + turns; n++) {
        const across = place + n * lane.period_mm;
        const along = middle[0] * unit[0] + middle[1] * unit[1];
        const point = [0, 1].map((k) => normal[k] * across + unit[k] * along);
        const half = lane.width_mm / 2;
        const corners = [[-reach, -half], [reach, -half], [reach, half], [-reach, half]].map(([u, v]) => [
          point[0] + unit[0] * u + normal[0] * v,
          point[1] + unit[1] * u + normal[1] * v,
        ]);
        make('path', { class: lane.width_mm > limit ? 'see-lane far' : 'see-lane', d: pathOf(corners) }, root);
      }
    }
  }
}

/** The corners of a motif's box where a copy lies. */
export function frameOf(motif, matrix, lie, i, j) {
  const whole = times(move(...at(lie, i, j)), matrix);
  return cornersOf(motif.box).map((p) => apply(whole, p));
}
