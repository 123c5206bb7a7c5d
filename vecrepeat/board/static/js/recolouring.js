// Colours that follow a finger. What a pixel shows is a sum: of each colour laid, how much of it
// is there. How much is told by pictures in code colours, three main colours in each. So a moved
// colour moves each pixel by its share, without anything being drawn anew; shades move by as much
// as their main colour, and the exact picture comes when the finger is lifted.

import { Pictures } from './pictures.js';
import { Tinted } from './tinting.js';

/** The most pixels of a tile that follow; a larger one does so at less resolution. */
const MOST = 360000;

export class Recolouring {
  constructor(table, store, dressing) {
    Object.assign(this, { table, store, dressing });
    this.codes = new Map();
    this.shares = new Map();
    this.held = null;
    this.latest = 0;
  }

  /** Forget what was measured: the cloth has other colours. */
  forget() {
    this.codes.clear();
    this.shares.clear();
    this.letGo();
  }

  /**
   * Take colours into the hand; resolves to whether they can be moved.
   *
   * @param numbers of main colours; the ground is the one after the last.
   * @param pictured whether the art has pictures, which keep their colours.
   */
  async take(numbers, pictured) {
    const mine = ++this.latest;
    const { cloth } = this.table;
    this.held = null;
    const { still } = cloth;
    if (!still) return false;
    const shrink = Math.min(1, Math.sqrt(MOST / (still.px[2] * still.px[3])));
    const place = [still.lie.name, still.zx, still.zy, ...still.px, shrink, JSON.stringify(this.store.rows)].join();
    if (place !== this.place) this.shares.clear();
    this.place = place;
    const shares = [];
    for (const number of numbers) shares.push(await this.#shareOf(number, shrink, pictured));
    if (mine !== this.latest || cloth.still?.px.join() !== still.px.join()) return false;
    this.held = held(cloth.still, shares, shrink);
    return true;
  }

  letGo() {
    this.latest++;
    this.held = null;
    const { cloth } = this.table;
    if (!cloth.quick) return;
    cloth.quick = null;
    cloth.paint();
  }

  /** Show what is in the hand in another colour. */
  show(from, to) {
    if (!this.held) return false;
    const { cloth } = this.table;
    cloth.quick = { ...this.held.still, canvas: this.held.tinted.moved(from, to) };
    cloth.paint();
    return true;
  }

  /** How much of a main colour is in each pixel, 0 to 255: a channel of a coded picture. */
  async #shareOf(number, shrink, pictured) {
    const coded = await this.#coded(Math.floor(number / 3), shrink);
    const bare = pictured ? await this.#coded(-1, shrink) : null;
    const channel = number % 3;
    const found = new Uint8ClampedArray(coded.length / 4);
    for (let n = 0; n < found.length; n++) found[n] = coded[4 * n + channel] - (bare ? bare[4 * n + channel] : 0);
    return found;
  }

  #coded(group, shrink) {
    if (!this.shares.has(group)) this.shares.set(group, this.#draw(group, shrink));
    return this.shares.get(group);
  }

  async #draw(group, shrink) {
    if (!this.codes.has(group)) this.codes.set(group, this.dressing.ask('code', { group }));
    const code = await this.codes.get(group);
    const { cloth } = this.table;
    const pictures = new Pictures({ ...this.store.data, pictures: code.pictures });
    const ground = code.ground && [code.ground, code.groundOpacity];
    const { canvas } = await cloth.picture(cloth.placements, true, { pictures, ground, shrink });
    const context = canvas.getContext('2d');
    context.globalCompositeOperation = 'destination-over';
    context.fillStyle = '#000';
    context.fillRect(0, 0, canvas.width, canvas.height);
    return context.getImageData(0, 0, canvas.width, canvas.height).data;
  }
}

function held(still, shares, shrink) {
  const [width, height] = still.px.slice(2).map((side) => Math.max(1, Math.round(side * shrink)));
  const sums = new Uint16Array(width * height);
  for (const one of shares) for (let n = 0; n < sums.length; n++) sums[n] += one[n];
  return { still, tinted: new Tinted(still.canvas, width, height, sums) };
}
