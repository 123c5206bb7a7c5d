// A design's page: the cloth first, and then all that lies on it and round it.

import * as link from './link.js';
import { cloth } from './opening.js';
import { Store } from './store.js';
import { Table } from './table.js';

const $ = (id) => document.getElementById(id);

async function start() {
  const store = new Store(await cloth);
  const table = new Table(store, {
    weave: $('weave'),
    marks: $('marks'),
    tapeacross: $('tapeacross'),
    tapedown: $('tapedown'),
  });
  // Not used by the page itself: for whoever opens the browser's console.
  window.board = { store, table };
  document.title = `${store.data.name}: the board`;
  $('name').textContent = store.data.name;

  function fitToPage() {
    const cloth = $('cloth').getBoundingClientRect();
    const card = $('card').getBoundingClientRect();
    const tray = $('tray').getBoundingClientRect();
    const beside = !$('card').classList.contains('folded') && card.width < cloth.width / 2;
    // On a phone it lies over the tray.
    const nearest = card.width > cloth.width / 2 ? Math.min(card.top, tray.top) : tray.top;
    const room = { left: 26, top: 26, right: 0, bottom: Math.max(0, cloth.bottom - nearest) };
    if (beside) room.right = Math.max(0, cloth.right - card.left);
    table.resize(cloth.width, cloth.height, window.devicePixelRatio || 1, room);
  }
  if (window.matchMedia('(max-width: 760px)').matches) $('card').classList.add('folded');
  $('cardfold').setAttribute('aria-expanded', String(!$('card').classList.contains('folded')));
  fitToPage();
  const shown = table.show();
  new ResizeObserver(fitToPage).observe($('cloth'));
  const { bindParts } = await import('./parts.js');
  await bindParts(store, table, { $, shown, fitToPage });
}

start().catch((error) => {
  document.getElementById('standing').textContent = '';
  const warning = document.getElementById('warning');
  warning.hidden = false;
  warning.textContent = error instanceof link.Refused ? `This page can't be used: ${error.message}.` : `The board can't start: ${error.message}`;
});
