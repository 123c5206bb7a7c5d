// One print on the table: a cut of its cloth at the table's scale, with its name under it.

import { Tinted } from '../tinting.js';

/** The most pixels of a block that follow a finger; a larger one does so at less resolution. */
const MOST = 800000;
/** A picture is stretched where whole pixels are off the scale by more than this. */
const SNAP = 0.006;

export class Piece {
  /** @param print what the collection says of it, @param place of the cut in the page. */
  constructor(print) {
    this.print = print;
    this.canvas = document.createElement('canvas');
    this.canvas.setAttribute('role', 'img');
    this.element = document.createElement('figure');
    this.element.className = print.role;
    this.element.dataset.print = print.print;
    const cut = document.createElement('div');
    cut.className = 'cut';
    cut.append(this.canvas);
    this.caption = document.createElement('figcaption');
    this.element.append(cut, this.caption);
    this.facts = null;
    /** The exact picture: { canvas, scale, key }; scale in its pixels to the mm. */
    this.still = null;
    this.tinted = null;
    this.say();
  }

  /** Write name, role and size under the cut, and what leads on. */
  say(...more) {
    const { name, role } = this.print;
    const size = this.facts?.size ?? '';
    const [head, facts] = ['strong', 'span'].map((tag) => document.createElement(tag));
    head.textContent = name;
    facts.className = 'facts';
    facts.textContent = this.facts?.error ?? [role, size].filter(Boolean).join(', ');
    facts.classList.toggle('grave', Boolean(this.facts?.error));
    this.canvas.setAttribute('aria-label', `${name}, ${role}`);
    this.caption.replaceChildren(head, facts, ...more);
  }

  /** Fit the canvas to its place; returns whether it has changed. */
  fit(dpr) {
    const { clientWidth, clientHeight } = this.canvas.parentElement;
    const [w, h] = [clientWidth, clientHeight].map((side) => Math.max(1, Math.round(side * dpr)));
    if (this.canvas.width === w && this.canvas.height === h) return false;
    [this.canvas.width, this.canvas.height] = [w, h];
    return true;
  }

  /** Lay a picture of a block down: from now on it is the exact one. */
  async lay(blob, key) {
    const bitmap = await createImageBitmap(blob);
    this.still = { bitmap, key };
    this.tinted = null;
    this.paint();
  }

  /** Get ready to move a colour by its shares, a picture of which one channel tells them. */
  async ready(blob, channel) {
    const { still } = this;
    const shares = await createImageBitmap(blob);
    if (this.still !== still || !still) return;
    const shrink = Math.min(1, Math.sqrt(MOST / (still.bitmap.width * still.bitmap.height)));
    const [w, h] = [still.bitmap.width, still.bitmap.height].map((side) => Math.max(1, Math.round(side * shrink)));
    const context = new OffscreenCanvas(w, h).getContext('2d', { willReadFrequently: true });
    context.drawImage(shares, 0, 0, w, h);
    const { data } = context.getImageData(0, 0, w, h);
    const amounts = new Uint8Array(w * h);
    for (let n = 0; n < amounts.length; n++) amounts[n] = data[4 * n + channel];
    this.tinted = new Tinted(still.bitmap, w, h, amounts);
  }

  /** Whether it is on the screen. */
  get seen() {
    const { top, bottom } = this.canvas.getBoundingClientRect();
    return bottom > 0 && top < window.innerHeight;
  }

  /** Show the colour in the hand as another one. */
  move(from, to) {
    if (this.tinted) this.paint(this.tinted.moved(from, to));
  }

  /** Paint the cut: the block over and over, at the table's scale. */
  paint(picture = this.still?.bitmap) {
    if (!picture || !this.facts?.block) return;
    const { canvas, facts, scale } = this;
    const context = canvas.getContext('2d', { alpha: false });
    const pattern = context.createPattern(picture, 'repeat');
    const [sx, sy] = facts.block.map((side, k) => (side * scale) / (k ? picture.height : picture.width));
    const stretched = Math.abs(sx - 1) > SNAP || Math.abs(sy - 1) > SNAP;
    if (stretched) pattern.setTransform(new DOMMatrix([sx, 0, 0, sy, 0, 0]));
    context.fillStyle = pattern;
    context.fillRect(0, 0, canvas.width, canvas.height);
  }
}
