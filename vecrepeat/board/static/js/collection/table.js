// The table: all prints of the collection side by side, at one scale.

import * as link from '../link.js';
import { Piece } from './piece.js';
import { TAB } from './store.js';

const STEP = 1.25;
const [LEAST, MOST] = [0.2, 6];

/** Event: `shown` when every piece shows the exact picture. */
export class Table extends EventTarget {
  /** @param place where pieces lie, @param more returns what is written under a piece, too. */
  constructor(place, store, more) {
    super();
    Object.assign(this, { place, store, more });
    this.pieces = new Map();
    /** CSS pixels to the mm of the cloth. */
    this.scale = 0;
    this.latest = 0;
    this.taken = null;
    /** Pictures of shares, by print, group and what they were drawn of. */
    this.shares = new Map();
    this.dpr = Math.min(2, window.devicePixelRatio || 1);
    new ResizeObserver(() => this.fit()).observe(place);
    // What comes into view has the moved colour too.
    document.addEventListener('scroll', () => this.moved && this.move(...this.moved), { passive: true });
  }

  /** Lay the prints that there are, in the collection's order. */
  lay() {
    const { prints } = this.store.data;
    for (const name of this.pieces.keys()) if (!prints.some(({ print }) => print === name)) this.pieces.delete(name);
    for (const print of prints) {
      const known = this.pieces.get(print.print);
      if (known && known.print.role === print.role) known.print = print;
      else this.pieces.set(print.print, new Piece(print));
    }
    const laid = prints.map(({ print }) => this.pieces.get(print).element);
    const tried = this.place.querySelector('.tried');
    this.place.replaceChildren(...laid);
    if (tried) laid[0].after(tried);
  }

  /** Show what the collection says now; resolves when every print is exact. */
  async show() {
    const mine = ++this.latest;
    const { way, standing } = this.store;
    if (this.version !== standing.version) this.shares.clear();
    this.version = standing.version;
    this.lay();
    const { prints } = await link.post('collection/dress', { way, by: TAB });
    if (mine !== this.latest) return;
    for (const facts of prints) {
      const piece = this.pieces.get(facts.print);
      if (!piece) continue;
      piece.facts = facts;
      piece.say(...this.more(piece.print));
    }
    if (!this.scale) this.whole();
    await this.draw(mine);
  }

  /** The scale at which a whole tile of the first print is seen. */
  whole() {
    const [first] = [...this.pieces.values()].filter(({ facts }) => facts?.tile);
    if (!first) return;
    const { clientWidth, clientHeight } = first.canvas.parentElement;
    this.scale = rounded(Math.min(clientWidth / first.facts.tile[0], clientHeight / first.facts.tile[1]));
    this.rescaled();
  }

  /** Closer (1) or farther (-1). */
  zoom(by) {
    this.scale = rounded(this.scale * STEP ** by);
    this.rescaled();
    this.draw(++this.latest);
  }

  rescaled() {
    document.documentElement.style.setProperty('--mm', `${this.scale}px`);
    for (const piece of this.pieces.values()) piece.scale = this.scale * this.dpr;
    for (const piece of this.pieces.values()) piece.paint();
    this.dispatchEvent(new Event('scaled'));
  }

  fit() {
    for (const piece of this.pieces.values()) if (piece.fit(this.dpr)) piece.paint();
  }

  /** Draw every piece that does not show what it should. */
  async draw(mine) {
    const { way } = this.store;
    const scale = this.scale * this.dpr;
    for (const piece of this.pieces.values()) {
      piece.scale = scale;
      piece.fit(this.dpr);
      if (!piece.facts?.key) continue;
      const key = `${piece.facts.key} ${scale}`;
      if (piece.still?.key === key) {
        piece.paint();
        continue;
      }
      try {
        const blob = await link.blob('collection/picture', { print: piece.print.print, way, scale, by: TAB });
        if (mine !== this.latest) return;
        await piece.lay(blob, key);
      } catch (error) {
        if (mine !== this.latest) return;
        piece.facts = { ...piece.facts, error: error.message };
        piece.say(...this.more(piece.print));
      }
    }
    this.dispatchEvent(new Event('shown'));
    this.foresee(mine);
  }

  // ------------------------------------------------------------------ a colour in the hand

  /** Take a palette colour into the hand, by its number; null for none. */
  async take(number) {
    this.taken = number;
    this.moved = null;
    for (const piece of this.pieces.values()) piece.tinted = null;
    if (number === null) return;
    for (const piece of this.pieces.values()) {
      if (this.taken !== number || !piece.still || !piece.facts?.uses?.includes(number)) continue;
      const blob = await this.shareOf(piece, Math.floor(number / 3));
      if (this.taken !== number) return;
      await piece.ready(blob, number % 3);
      if (this.moved && piece.seen) piece.move(...this.moved);
    }
  }

  /** Ask for the shares of all colours before one is touched, one after the other. */
  async foresee(mine) {
    const groups = Math.ceil(Object.keys(this.store.data.palette).length / 3);
    for (let group = 0; group < groups; group++) {
      for (const piece of this.pieces.values()) {
        if (mine !== this.latest || !piece.still) return;
        const used = piece.facts?.uses?.some((number) => Math.floor(number / 3) === group);
        if (used) await this.shareOf(piece, group).catch(() => {});
      }
    }
  }

  shareOf({ print, still }, group) {
    const key = `${print.print} ${group} ${still.key}`;
    if (!this.shares.has(key)) {
      const { way } = this.store;
      const asked = { print: print.print, way, group, scale: this.scale * this.dpr, by: TAB };
      const found = link.blob('collection/shares', asked);
      this.shares.set(key, found);
      found.catch(() => this.shares.delete(key));
    }
    return this.shares.get(key);
  }

  /** Show the colour in the hand as another one, in every print that is seen. */
  move(from, to) {
    this.moved = [from, to];
    for (const piece of this.pieces.values()) if (piece.seen) piece.move(from, to);
  }

  /** Show all as they are again. */
  letGo() {
    this.moved = null;
    for (const piece of this.pieces.values()) {
      piece.tinted = null;
      piece.paint();
    }
  }
}

/** Such that what is asked twice is the same; what is seen gives way by a thousandth. */
function rounded(scale) {
  return Math.min(MOST, Math.max(LEAST, Math.round(scale * 1000) / 1000));
}
