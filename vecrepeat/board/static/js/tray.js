// The tray: every motif there is, to be taken onto the cloth.

import { FromTray } from './hands.js';
import { rounded } from './placements.js';

const START = 8;
const RANKS = [['hero', 'hero'], ['secondary', 'secondary'], ['filler', 'filler'], ['', 'left out']];

export async function layTray(table, list, cloth) {
  const { motifs } = table.store.data;
  const entries = motifs.map((motif) => {
    const item = document.createElement('li');
    const button = document.createElement('button');
    button.type = 'button';
    button.className = 'motif';
    button.dataset.motif = motif.name;
    button.title = motif.name;
    const picture = document.createElement('span');
    picture.className = 'picture';
    const name = document.createElement('span');
    name.className = 'name';
    name.textContent = motif.name;
    const count = document.createElement('span');
    count.className = 'count';
    button.append(picture, name, count);
    const { fields, rank, width } = saidOf(table, motif);
    item.append(button, fields);
    bind(table, button, motif, cloth);
    return { motif, item, picture, count, button, rank, width };
  });
  list.replaceChildren(...entries.map(({ item }) => item));
  for (const { motif, picture } of entries) {
    const drawn = await table.masks.make(motif);
    const canvas = document.createElement('canvas');
    [canvas.width, canvas.height] = [drawn.width, drawn.height];
    canvas.getContext('2d').drawImage(drawn, 0, 0);
    picture.append(canvas);
  }
  return entries;
}

/** Show how often each motif lies on the cloth, and on what ground. */
export function countTray(entries, store) {
  const counts = new Map();
  for (const row of store.rows) counts.set(row.motif, (counts.get(row.motif) ?? 0) + 1);
  for (const { motif, picture, count, button, rank, width } of entries) {
    picture.style.backgroundColor = store.ground?.[0] ?? '#ffffff';
    rank.value = motif.rank;
    width.value = rounded(motif.size * motif.wide, 2);
    const n = counts.get(motif.name) ?? 0;
    count.textContent = n ? `× ${n}` : '';
    button.setAttribute('aria-label', `${motif.name}, ${motif.rank || 'left out'}, ${n} on the cloth: add one`);
  }
}

/** Fields for a motif's rank and printed width. */
function saidOf(table, motif) {
  const fields = document.createElement('div');
  fields.className = 'sizes';
  const rank = document.createElement('select');
  rank.append(...RANKS.map(([value, word]) => new Option(word, value)));
  rank.setAttribute('aria-label', `Rank of ${motif.name}`);
  rank.addEventListener('change', () => table.rank(motif.name, rank.value));
  const width = document.createElement('input');
  Object.assign(width, { type: 'number', min: 0.1, max: 100000, step: 'any', required: true });
  width.setAttribute('aria-label', `Printed width of ${motif.name} in mm`);
  width.addEventListener('change', () => width.reportValidity() && table.widen(motif.name, Number(width.value)));
  const unit = document.createElement('span');
  unit.textContent = 'mm wide';
  fields.append(rank, width, unit);
  return { fields, rank, width };
}

function bind(table, button, motif, cloth) {
  let from = null;
  let deed = null;
  const at = (event) => {
    const { left, top } = cloth.getBoundingClientRect();
    return [event.clientX - left, event.clientY - top];
  };
  button.addEventListener('pointerdown', (event) => {
    if (event.button !== 0) return;
    from = [event.clientX, event.clientY];
    button.setPointerCapture(event.pointerId);
  });
  button.addEventListener('pointermove', (event) => {
    if (!from || !event.buttons) return;
    if (!deed) {
      const far = Math.hypot(event.clientX - from[0], event.clientY - from[1]);
      if (far < START) return;
      deed = new FromTray(table, motif.name, at(event));
      button.classList.add('taken');
    }
    deed.move(at(event), event);
  });
  const stop = (event) => {
    from = null;
    button.classList.remove('taken');
    if (!deed) return;
    const done = deed;
    deed = null;
    // Laid back into the tray, it is not added.
    const over = document.elementsFromPoint(event.clientX, event.clientY);
    if (event.type === 'pointercancel' || over.some((one) => one.id === 'tray')) done.cancel();
    else done.end().then(() => cloth.focus({ preventScroll: true }));
    button.dataset.dragged = '1';
  };
  button.addEventListener('pointerup', stop);
  button.addEventListener('pointercancel', stop);
  button.addEventListener('click', () => {
    if (button.dataset.dragged) delete button.dataset.dragged;
    else table.add(motif.name);
  });
}
