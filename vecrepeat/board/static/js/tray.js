// The tray: every motif there is, to be taken onto the cloth.

import { FromTray } from './hands.js';

const START = 8;

export async function layTray(table, list, cloth) {
  const { motifs } = table.store.data;
  const entries = motifs.map((motif) => {
    const item = document.createElement('li');
    const button = document.createElement('button');
    button.type = 'button';
    button.className = `motif ${motif.rank}`;
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
    item.append(button);
    bind(table, button, motif, cloth);
    return { motif, item, picture, count, button };
  });
  list.replaceChildren(...entries.map(({ item }) => item));
  const ground = table.store.ground?.[0] ?? '#ffffff';
  for (const { motif, picture } of entries) {
    const drawn = await table.masks.make(motif);
    const canvas = document.createElement('canvas');
    [canvas.width, canvas.height] = [drawn.width, drawn.height];
    canvas.getContext('2d').drawImage(drawn, 0, 0);
    picture.style.backgroundColor = ground;
    picture.append(canvas);
  }
  return entries;
}

/** How often each motif lies on the cloth. */
export function countTray(entries, rows) {
  const counts = new Map();
  for (const row of rows) counts.set(row.motif, (counts.get(row.motif) ?? 0) + 1);
  for (const { motif, count, button } of entries) {
    const n = counts.get(motif.name) ?? 0;
    count.textContent = n ? `× ${n}` : '';
    button.setAttribute('aria-label', `${motif.name}, ${motif.rank}, ${n} on the cloth: add one`);
  }
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
