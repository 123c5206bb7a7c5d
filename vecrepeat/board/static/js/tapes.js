// The tape measure along two edges: cm or inches of the marked tile, at the scale that is seen.

import { toMm } from './lengths.js';

const THICK = 26;
/** What is marked, in centimetres or inches. */
const STEPS = {
  cm: [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500],
  in: [0.0625, 0.125, 0.25, 0.5, 1, 2, 5, 10, 20, 50, 100, 200],
};

export class Tapes {
  constructor(across, down, view) {
    Object.assign(this, { across, down, view });
  }

  /** @param unit the person's own; mm are counted on a tape in cm. */
  paint(lie, unit) {
    const shown = unit === 'in' ? 'in' : 'cm';
    this.#paint(this.across, this.view.width, 0, lie.cell[0], shown);
    this.#paint(this.down, this.view.height, 1, lie.cell[1], shown);
  }

  #paint(canvas, length, axis, mm, unit) {
    const { view } = this;
    const one = toMm(1, unit);
    const tile = mm / one;
    const { dpr } = view;
    const [w, h] = axis ? [THICK, length] : [length, THICK];
    if (canvas.width !== Math.round(w * dpr) || canvas.height !== Math.round(h * dpr)) {
      canvas.width = Math.round(w * dpr);
      canvas.height = Math.round(h * dpr);
      canvas.style.width = `${w}px`;
      canvas.style.height = `${h}px`;
    }
    const context = canvas.getContext('2d');
    context.setTransform(dpr, 0, 0, dpr, 0, 0);
    context.fillStyle = '#f0c948';
    context.fillRect(0, 0, w, h);
    const scale = ((axis ? view.zy : view.zx) / dpr) * one;
    const from = (axis ? view.y : view.x) / one;
    const long = STEPS[unit].find((step) => step * scale >= 56) ?? STEPS[unit].at(-1);
    const short = STEPS[unit].filter((step) => step < long && step * scale >= 5 && Number.isInteger(Math.round((long / step) * 1e6) / 1e6))[0] ?? long;
    // The marked tile, as a darker length of tape.
    context.fillStyle = '#e3ad1f';
    const [t0, t1] = [(0 - from) * scale, (tile - from) * scale];
    context.fillRect(...(axis ? [0, t0, THICK, t1 - t0] : [t0, 0, t1 - t0, THICK]));
    context.fillStyle = '#26221c';
    context.font = '11px system-ui, sans-serif';
    context.textBaseline = 'top';
    const last = Math.ceil((from + length / scale) / short);
    for (let n = Math.floor(from / short); n <= last; n++) {
      const at = n * short;
      const place = (at - from) * scale;
      const isLong = Math.abs(at / long - Math.round(at / long)) < 1e-6;
      const reach = isLong ? 12 : 6;
      context.fillRect(...(axis ? [THICK - reach, place - 0.5, reach, 1] : [place - 0.5, THICK - reach, 1, reach]));
      if (!isLong) continue;
      const text = `${Number(at.toFixed(4))}`;
      context.save();
      context.translate(...(axis ? [3, place - 3] : [place + 3, 3]));
      if (axis) context.rotate(-Math.PI / 2);
      context.fillText(n === 0 ? `0 ${unit}` : text.replace('-', '−'), 0, 0);
      context.restore();
    }
    context.fillRect(...(axis ? [THICK - 1, 0, 1, h] : [0, THICK - 1, w, 1]));
  }
}
