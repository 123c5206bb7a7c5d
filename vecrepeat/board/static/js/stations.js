// The stations of the card: one is open at a time.
//
// A station is a section in design.html with the id `station-NAME`, a tab with the id `to-NAME`,
// and a function `bind(table, store, $, page)` that returns what it wants to be told:
// `changed` after every step, `shown` when it is opened, `hidden` when another is.

import { bindArrange } from './stations/arrange.js';
import { bindColour } from './stations/colour.js';
import { bindFiles } from './stations/files.js';
import { bindLook } from './stations/look.js';
import { bindTile } from './stations/tile.js';

const STATIONS = { arrange: bindArrange, tile: bindTile, colour: bindColour, look: bindLook, files: bindFiles };

export function bindStations(table, store, $, page) {
  const names = Object.keys(STATIONS);
  const bound = Object.fromEntries(names.map((name) => [name, STATIONS[name](table, store, $, page)]));

  function open(name) {
    for (const one of names) {
      const chosen = one === name;
      $(`to-${one}`).setAttribute('aria-selected', String(chosen));
      $(`to-${one}`).tabIndex = chosen ? 0 : -1;
      if (!chosen && !$(`station-${one}`).hidden) bound[one].hidden?.();
      $(`station-${one}`).hidden = !chosen;
    }
    bound[name].shown?.();
  }

  for (const name of names) {
    $(`to-${name}`).addEventListener('click', () => open(name));
    $(`to-${name}`).addEventListener('keydown', (event) => {
      const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (!by) return;
      event.preventDefault();
      const next = names[(names.indexOf(name) + by + names.length) % names.length];
      open(next);
      $(`to-${next}`).focus();
    });
  }
  return {
    open,
    changed() {
      for (const name of names) bound[name].changed?.();
    },
  };
}
