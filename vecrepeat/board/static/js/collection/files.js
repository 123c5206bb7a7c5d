// The collection's sheets and files: each deed a job, with its command beside it.

import { Jobs } from '../jobs.js';
import * as link from '../link.js';
import { sayDeed } from '../said.js';
import { listWritten } from '../written.js';

/** What can be written: the command's name, its formats, and whether a colourway is chosen. */
const DEEDS = {
  line: { word: 'Line sheet and story', kind: 'linesheet', endings: [['pdf', 'PDF, a page for each colourway'], ['png', 'PNG, a file for each'], ['svg', 'SVG, a file for each']], ways: true },
  buyer: { word: 'Buyer’s page', kind: 'linesheet', endings: [['html', 'one page for any browser']], ways: true },
  specs: { word: 'Spec sheets of all prints', kind: 'spec', endings: [['pdf', 'PDF'], ['png', 'PNG']], ways: true },
  swatches: { word: 'Swatches of the palette', kind: 'swatches', endings: [['svg', 'SVG'], ['css', 'CSS'], ['txt', 'plain text'], ['gpl', 'GIMP palette']] },
  batch: { word: 'Every print’s files', kind: 'batch', endings: [], ways: true },
};

export function bindFiles(store, $) {
  $('filedeed').append(...Object.entries(DEEDS).map(([name, { word }]) => new Option(word, name)));
  const deed = () => DEEDS[$('filedeed').value];
  const written = () => listWritten($('written'), $('writtenfolder'));
  const jobs = new Jobs($('jobs'), (job) => job.design === link.DESIGN);
  store.addEventListener('jobs', ({ detail }) => jobs.hear(detail));
  jobs.addEventListener('ended', ({ detail }) => {
    if (detail.design !== link.DESIGN) return;
    const told = { done: 'Written', stopped: 'Stopped', failed: 'Not written' }[detail.state];
    store.notice(detail.error ? `${told}: ${detail.error}` : told, detail.state === 'failed');
    written();
  });

  function settings() {
    const found = {};
    if (deed().endings.length) found.ending = $('fileending').value;
    if (deed().ways && $('fileway').value) found.colourway = $('fileway').value;
    return found;
  }

  /** Show what the deed is asked with. */
  function show() {
    const { endings, ways } = deed();
    const was = $('fileending').value;
    $('fileending').replaceChildren(...endings.map(([value, word]) => new Option(word, value, false, value === was)));
    $('fileending').closest('label').hidden = endings.length < 2;
    const way = $('fileway').value;
    $('fileway').replaceChildren(new Option('all', ''), ...store.data.ways.map(({ name }) => new Option(name, name, false, name === way)));
    $('fileway').closest('label').hidden = !ways;
    tell();
  }

  let saying = Promise.resolve();
  /** Say the command; one after the other, so that the last stays. */
  function tell() {
    saying = saying.then(async () => {
      const error = await sayDeed($('filesaid'), deed().kind, settings());
      $('foreseen').textContent = error?.message ?? '';
    });
  }

  $('filedeed').addEventListener('change', show);
  $('fileending').addEventListener('change', tell);
  $('fileway').addEventListener('change', tell);
  store.addEventListener('change', show);
  $('files').addEventListener('submit', async (event) => {
    event.preventDefault();
    try {
      await store.steps;
      jobs.hear({ job: await link.post('start', { kind: deed().kind, settings: settings() }) });
    } catch (error) {
      store.notice(error.message, true);
    }
  });
  return {
    shown() {
      show();
      written();
    },
  };
}
