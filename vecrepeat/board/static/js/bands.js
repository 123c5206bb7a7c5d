// Colourways side by side: the cloth in bands, each in its own colours.

import { Pictures } from './pictures.js';

/** More would be too narrow to be judged. */
export const MOST = 4;

export class Bands {
  constructor(table, store, dressing, labels) {
    Object.assign(this, { table, store, dressing, labels });
    this.drawn = [];
    this.latest = 0;
    table.addEventListener('viewed', () => this.#draw());
  }

  get shown() {
    return this.drawn.length > 0;
  }

  /** Show colourways, null as drawn, side by side. */
  async show(rows) {
    const mine = ++this.latest;
    const drawn = [];
    for (const [place, row] of rows.slice(0, MOST).entries()) drawn.push({ row, ...(await this.dressing.ask('dress', { row, place })) });
    if (mine !== this.latest) return;
    this.drawn = drawn;
    await this.#draw();
  }

  hide() {
    this.latest++;
    this.drawn = [];
    this.table.cloth.bands = null;
    this.labels.replaceChildren();
    this.table.cloth.paint();
  }

  async #draw() {
    const { cloth, view } = this.table;
    if (!this.shown) return;
    const mine = this.latest;
    const bands = [];
    for (const { pictures, ground, groundOpacity } of this.drawn) {
      const options = { pictures: new Pictures({ ...this.store.data, pictures }), ground: ground && [ground, groundOpacity] };
      bands.push(await cloth.picture(cloth.placements, true, options));
    }
    if (mine !== this.latest) return;
    const [left, right] = [view.room.left, view.width - view.room.right];
    const step = (right - left) / bands.length;
    cloth.bands = bands.map((still, n) => ({ still, from: n ? left + n * step : 0, to: n + 1 < bands.length ? left + (n + 1) * step : view.width }));
    cloth.paint();
    this.labels.replaceChildren(...this.drawn.map(({ row }, n) => {
      const label = document.createElement('span');
      label.textContent = row?.name ?? 'as drawn';
      label.style.left = `${left + n * step + 8}px`;
      label.style.maxWidth = `${step - 16}px`;
      return label;
    }));
  }
}
