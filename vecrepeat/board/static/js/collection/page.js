// A collection's page: everything put together.

import * as link from '../link.js';
import { bindNotices } from '../notices.js';
import { bindTabs } from '../tabs.js';
import { bindBlender } from './blender.js';
import { bindFiles } from './files.js';
import { bindPalette } from './palette.js';
import { Store } from './store.js';
import { Table } from './table.js';
import { bindTogether } from './together.js';

const $ = (id) => document.getElementById(id);

/** What leads from a print to its own board. */
function openingOf(store) {
  return ({ name, from, drawing }) => {
    if (!from) return [];
    const anchor = document.createElement('a');
    anchor.className = 'open';
    anchor.textContent = 'Open';
    anchor.setAttribute('aria-label', `Open ${name} on its own board`);
    anchor.href = link.pageOf(from);
    anchor.addEventListener('click', async (event) => {
      if (!drawing) return;
      // A drawing's recipe is begun beside it.
      event.preventDefault();
      try {
        location.href = link.pageOf((await link.post('takeup', { drawing: from })).design);
      } catch (error) {
        store.notice(error.message, true);
      }
    });
    return [anchor];
  };
}

async function start() {
  const store = new Store(await link.get('collection'));
  const table = new Table($('cloths'), store, openingOf(store));
  // Not used by the page itself: for whoever opens the browser's console.
  window.board = { store, table };
  document.querySelector('.home').href = link.pageOf('');
  $('typedin').textContent = `Commands are typed in the folder ${store.data.folder}`;

  bindNotices(store, $('told'));

  function showStanding() {
    const { fault, lost, undo, redo } = store.standing;
    const { name, prints } = store.data;
    $('name').textContent = name;
    document.title = `${name}: collection`;
    $('standing').textContent = lost ? 'Not connected' : `${prints.length} prints, each step is in ${store.data.file}`;
    $('undo').disabled = !undo;
    $('redo').disabled = !redo;
    $('undo').title = undo;
    $('redo').title = redo;
    const warning = lost
      ? 'The program behind this page has stopped. Every step is on the disk: start vecrepeat board again.'
      : fault && `What is on the disk can’t be used: ${fault}`;
    $('warning').hidden = !warning;
    if ($('warning').textContent !== warning) $('warning').textContent = warning;
  }

  const show = async () => {
    try {
      await table.show();
    } catch (error) {
      store.notice(error.message, true);
    }
  };
  store.addEventListener('standing', showStanding);
  store.addEventListener('change', () => {
    showStanding();
    show();
  });
  store.addEventListener('way', show);
  $('undo').addEventListener('click', () => store.undo());
  $('redo').addEventListener('click', () => store.redo());
  $('in').addEventListener('click', () => table.zoom(1));
  $('out').addEventListener('click', () => table.zoom(-1));
  table.addEventListener('scaled', () => {
    // CSS counts 96 pixels to the inch.
    $('zoom').textContent = `${Math.round((table.scale / (96 / 25.4)) * 100)} %`;
  });
  document.addEventListener('keydown', (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
    const key = event.key.toLowerCase();
    // Fields undo their own typing.
    if (event.target.matches?.('input:not([type=range]):not([type=checkbox])')) return;
    if (key === 'z') event.shiftKey ? store.redo() : store.undo();
    else if (key === 'y') store.redo();
    else return;
    event.preventDefault();
  });

  bindPalette(table, store, $);
  bindTabs($, { blender: bindBlender(table, store, $), together: bindTogether(store, $), files: bindFiles(store, $) });
  showStanding();
  store.listen();
  await show();
  document.body.dataset.ready = '1';
}

start().catch((error) => {
  $('standing').textContent = '';
  $('warning').hidden = false;
  $('warning').textContent = error instanceof link.Refused ? `This page can't be used: ${error.message}.` : `The page can't start: ${error.message}`;
});
