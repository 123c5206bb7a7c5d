// Files dropped on the page: what comes with a drag, and a changed drawing for this design.

import * as link from './link.js';

/** Every file of a drag, those in folders too. */
export async function filesOf(transfer) {
  const entries = [...transfer.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean);
  if (!entries.length) return [...transfer.files];
  return (await Promise.all(entries.map(within))).flat();
}

async function within(entry) {
  if (entry.isFile) return [await new Promise((done, failed) => entry.file(done, failed))];
  const reader = entry.createReader();
  const found = [];
  // A reader gives a hundred at a time.
  for (;;) {
    const some = await new Promise((done, failed) => reader.readEntries(done, failed));
    if (!some.length) break;
    found.push(...some);
  }
  return (await Promise.all(found.filter(({ name }) => !name.startsWith('.')).map(within))).flat();
}

/** Whether a drag brings files. */
export function bringsFiles(event) {
  return [...event.dataTransfer.types].includes('Files');
}

/** A drawing dropped on a design's page brings its copy up to date, or comes in as a motif. */
export function takeDrops(store) {
  document.addEventListener('dragover', (event) => {
    if (bringsFiles(event)) event.preventDefault();
  });
  document.addEventListener('drop', async (event) => {
    if (!bringsFiles(event)) return;
    event.preventDefault();
    for (const file of await filesOf(event.dataTransfer)) {
      try {
        const { new: isNew, copied } = await link.send('drop', file, { name: file.name });
        const told = isNew ? 'has come in: it lies in the tray' : 'is up to date';
        store.notice(`${file.name} ${told}${copied ? '; the recipe names this copy now, and the drawing it named stays as it was' : ''}`);
      } catch (error) {
        store.notice(`${file.name}: ${error.message}`, true);
      }
    }
  });
}
