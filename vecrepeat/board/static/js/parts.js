// What lies on the cloth and round it: label, tools, card, tray, keys, and what is told.

import { takeDrops } from './drops.js';
import { Hands, pull } from './hands.js';
import { bindKeys } from './keys.js';
import * as link from './link.js';
import { bindNotices } from './notices.js';
import { bindStations } from './stations.js';
import { countTray, layTray } from './tray.js';

/**
 * Bind everything, and begin.
 *
 * @param shown resolves when the first cloth is seen.
 * @param fitToPage is called when what covers the cloth has changed.
 */
export async function bindParts(store, table, { $, shown, fitToPage }) {
  const pressed = (id) => $(id).getAttribute('aria-pressed') === 'true';
  const hands = new Hands(table, $('cloth'), { several: () => pressed('several') });
  const flick = (id) => $(id).click();

  $('typedin').textContent = `Commands are typed in the folder ${store.data.folder}`;

  // ---------------------------------------------------------------- what is told

  let unread = store.data.warnings;
  let entries = [];
  bindNotices(store, $('told'));

  function showStanding() {
    const { dirty, foreign, artChanged, lost } = store.standing;
    const waiting = store.waiting.length > 0;
    $('standing').textContent = lost ? 'Not connected' : dirty || waiting ? 'Not saved yet' : 'Saved';
    $('standing').title = dirty ? 'The journal beside the recipe keeps every step until you save' : '';
    $('undo').disabled = !store.canUndo;
    $('redo').disabled = !store.canRedo;
    const warnings = unread.map((text) => [
      `${text[0].toUpperCase()}${text.slice(1)}.`,
      [['Understood', () => { unread = unread.filter((one) => one !== text); showStanding(); }]],
    ]);
    if (lost) warnings.push(['The program behind this page has stopped. All it had heard of is in the journal: start vecrepeat board again.', []]);
    if (foreign) {
      warnings.push([
        'Something else has changed the recipe on the disk.',
        [['Take what is on the disk', () => store.reread(true)], ['Save mine over it', () => store.save(true)]],
      ]);
    }
    if (artChanged) warnings.push(['The art on the disk has changed.', [['Read it anew', () => store.reread(false)]]]);
    const key = warnings.map(([text]) => text).join();
    if ($('warning').dataset.key === key) return;
    $('warning').dataset.key = key;
    $('warning').hidden = !warnings.length;
    $('warning').replaceChildren(...warnings.map(([text, ways]) => {
      const line = document.createElement('p');
      line.append(text, ...ways.map(([word, way]) => {
        const button = document.createElement('button');
        button.type = 'button';
        button.textContent = word;
        button.addEventListener('click', way);
        return button;
      }));
      return line;
    }));
  }
  store.addEventListener('standing', showStanding);

  // ---------------------------------------------------------------- the parts

  const dressed = async () => {
    entries = await layTray(table, $('motifs'), $('cloth'));
    countTray(entries, store);
  };
  const stations = bindStations(table, store, $, { dressed });
  takeDrops(store);
  for (const home of document.querySelectorAll('.home')) home.href = link.pageOf('');
  for (const id of ['tapeacross', 'tapedown']) pull(table, $(id));
  table.addEventListener('viewed', () => {
    // CSS counts 96 pixels to the inch.
    $('zoom').textContent = `${Math.round((table.view.scale / (96 / 25.4)) * 100)} %`;
  });

  $('undo').addEventListener('click', () => store.undo());
  $('redo').addEventListener('click', () => store.redo());
  $('save').addEventListener('click', () => store.save());
  $('in').addEventListener('click', () => table.zoom(1.25));
  $('out').addEventListener('click', () => table.zoom(0.8));
  $('whole').addEventListener('click', () => table.refit());
  for (const id of ['snap', 'several']) {
    $(id).addEventListener('click', () => {
      const on = !pressed(id);
      $(id).setAttribute('aria-pressed', String(on));
      if (id === 'snap') table.snap = on;
    });
  }
  $('traysizes').addEventListener('click', () => {
    const on = !pressed('traysizes');
    $('traysizes').setAttribute('aria-pressed', String(on));
    $('tray').classList.toggle('sized', on);
    fitToPage();
  });
  const fold = (open) => {
    $('cardfold').setAttribute('aria-expanded', String(open));
    $('card').classList.toggle('folded', !open);
    fitToPage();
  };
  $('cardfold').addEventListener('click', () => fold($('card').classList.contains('folded')));

  const help = () => $('keys').showModal();
  const list = bindKeys({ table, store, hands, cloth: $('cloth'), flick, help });
  $('keylist').replaceChildren(...list.flatMap(([keys, what]) => {
    const [term, text] = [document.createElement('dt'), document.createElement('dd')];
    [term.textContent, text.textContent] = [keys, what];
    return [term, text];
  }));
  $('keyhelp').addEventListener('click', help);
  $('keys').addEventListener('close', () => $('cloth').focus());

  // ---------------------------------------------------------------- at work

  window.addEventListener('beforeunload', (event) => {
    // All else is in the journal.
    if (store.waiting.length) event.preventDefault();
  });

  store.addEventListener('change', () => {
    if (table.carrying) {
      hands.cancel();
      table.letGo();
    }
    table.show();
    stations.changed();
    showStanding();
    countTray(entries, store);
  });
  // Which was on the cloth before there was a card to say so.
  await shown;
  table.dispatchEvent(new Event('picked'));
  table.dispatchEvent(new Event('viewed'));
  stations.changed();
  showStanding();
  entries = await layTray(table, $('motifs'), $('cloth'));
  countTray(entries, store);
  store.listen();
  const { takenUp } = store.data;
  if (takenUp) store.notice(`Taken up where it was left: ${takenUp} ${takenUp === 1 ? 'step' : 'steps'} from the journal`);
  for (const note of store.data.notes) store.notice(note);
  document.body.dataset.ready = '1';
}

