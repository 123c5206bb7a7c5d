// Which colourway the cloth wears. The exact picture of it is the server's.

import * as link from './link.js';
import { TAB } from './store.js';

/** Event: `dressed` when the cloth shows other colours. */
export class Dressing extends EventTarget {
  constructor(table, store) {
    super();
    Object.assign(this, { table, store });
    /** The name of the one that is to be worn, be it there or undone. */
    this.wanted = '';
    /** Where each colour of the art goes. */
    this.targets = {};
    this.key = 'null';
    this.latest = 0;
  }

  /** The worn colourway as the recipe has it, or null. */
  get row() {
    return this.store.now.colourways.find((row) => row.name === this.wanted) ?? null;
  }

  /** The worn colourway's name, "" as drawn. */
  get worn() {
    return this.row?.name ?? '';
  }

  set worn(name) {
    this.wanted = name;
  }

  async wear(name) {
    this.worn = name;
    await this.refresh();
  }

  /** Show the worn colourway as it is now. */
  async refresh() {
    const { store, table, row } = this;
    const { lined } = store;
    const asRead = !row && !lined.length;
    // A blender is another one on another layout or tile.
    const laid = store.data.blender ? [store.now.layout, store.now.tile] : [];
    const key = asRead ? 'null' : JSON.stringify([row, store.now.ground, lined, ...laid]);
    if (key === this.key) return;
    this.key = key;
    const mine = ++this.latest;
    try {
      if (asRead) {
        this.targets = {};
        store.reshape({});
        await table.dress({ pictures: store.data.pictures }, true);
      } else {
        const drawn = await this.ask('dress', { row });
        if (mine !== this.latest) return;
        this.targets = drawn.targets;
        store.reshape(drawn.shapes);
        await table.dress(drawn, !row);
      }
      this.dispatchEvent(new Event('dressed'));
    } catch (error) {
      if (mine !== this.latest) return;
      this.key = '';
      store.notice(error.message, true);
    }
  }

  /** Ask about colours of the cloth as it is now. */
  async ask(what, asked = {}) {
    await this.store.send();
    return link.post('colour', { what, by: TAB, ...asked });
  }

  /** Where a main colour has gone. */
  of(entry) {
    return this.targets[entry.colour] ?? entry.colour;
  }
}
