// The palette in the tray: colourways to choose, swatches, and a colour that is moved by hand.

import { bindMixing } from '../mixing.js';
import { chipsOf, swatchesOf } from '../swatches.js';

export function bindPalette(table, store, $) {
  let chosen = null;

  /** The palette's colours: as the collection says them, and as they are looked at. */
  function entries() {
    const { palette, printer } = store.data;
    return Object.entries(palette).map(([name, colour]) => ({
      key: name,
      name: printer[name] ? `${name} (${printer[name]})` : name,
      colour,
      now: store.palette[name],
      ramps: [],
      own: store.plain,
    }));
  }

  function show() {
    const list = entries();
    if (!list.some(({ key }) => key === chosen)) chosen = null;
    swatchesOf($('maincolours'), list, chosen, { targets: {} }, choose);
    mixing.show(list.find(({ key }) => key === chosen) ?? null);
    $('mixback').textContent = 'As in the palette';
    const names = $('ways').contains(document.activeElement) ? document.activeElement.dataset.way : null;
    $('ways').replaceChildren(...store.data.ways.map((way) => {
      const item = document.createElement('li');
      const button = document.createElement('button');
      button.type = 'button';
      button.dataset.way = way.name;
      button.setAttribute('aria-pressed', String(way.name === store.way));
      button.append(way.name, chipsOf(way, { colours: list }));
      button.addEventListener('click', () => store.wear(way.name));
      item.append(button);
      return item;
    }));
    if (names !== null) $('ways').querySelector(`[data-way="${CSS.escape(names)}"]`)?.focus();
  }

  /** Have the chosen colour ready before a finger moves it. */
  async function takeUp() {
    const number = chosen === null ? -1 : Object.keys(store.data.palette).indexOf(chosen);
    try {
      await table.take(number < 0 ? null : number);
    } catch (error) {
      store.notice(error.message, true);
    }
  }

  async function choose(key) {
    chosen = chosen === key ? null : key;
    table.letGo();
    show();
    await takeUp();
  }

  const mixing = bindMixing($, {
    moved(entry, colour) {
      table.move(entry.now, colour);
    },
    laid(entry, colour) {
      if (colour !== entry.now) store.recolour(entry.key, colour);
    },
  });
  $('mixdone').addEventListener('click', () => {
    const key = chosen;
    choose(key);
    $('maincolours').querySelector(`[data-key="${CSS.escape(key)}"]`)?.focus();
  });

  table.addEventListener('shown', takeUp);
  store.addEventListener('way', show);
  store.addEventListener('change', show);
  show();
}
