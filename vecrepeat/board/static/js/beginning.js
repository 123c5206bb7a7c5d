// The place to begin: files are laid down, named and copied; what can't be read says why.

import { bringsFiles, filesOf } from './drops.js';
import * as link from './link.js';
import { listWritten } from './written.js';

const DRAWING = /\.svgz?$/i;
const ART = /\.(svgz?|png|webp|tiff?|jpe?g)$/i;

export function bindBeginning(jobs, $) {
  const place = $('place');
  /** What is laid down: { file, item, told }. */
  let laid = [];
  let awaited = null;

  function lay(files) {
    const seen = new Set(laid.map(({ file }) => file.name));
    for (const file of files.filter(({ name }) => !name.startsWith('.') && !seen.has(name))) {
      const [item, name, told] = ['li', 'span', 'span'].map((tag) => document.createElement(tag));
      name.className = 'name';
      told.className = 'facts';
      name.textContent = file.name;
      item.append(name, told);
      laid.push({ file, item, told });
    }
    if (!laid.length) return;
    $('laid').replaceChildren(...laid.map(({ item }) => item));
    $('beginning').hidden = false;
    // The likeliest, to be changed: one drawing is a page, many are motifs, a photo is a tile.
    const names = laid.map(({ file }) => file.name);
    const guess = names.length === 1 ? (DRAWING.test(names[0]) ? 'page' : /\.jpe?g$/i.test(names[0]) ? 'tile' : 'motifs') : 'motifs';
    $('what').querySelector(`[value=${guess}]`).checked = true;
    if (!$('title').value) $('title').value = titleOf(files);
    show();
    $('begin').focus();
  }

  const what = () => $('what').querySelector(':checked').value;
  const show = () => {
    $('fulness').hidden = what() !== 'motifs';
  };
  $('what').addEventListener('change', show);

  function clear() {
    laid = [];
    $('beginning').hidden = true;
    $('title').value = '';
    $('told').textContent = '';
  }
  $('clear').addEventListener('click', clear);

  for (const [button, input] of [['choose', 'files'], ['choosefolder', 'folder']]) {
    $(button).addEventListener('click', () => $(input).click());
    $(input).addEventListener('change', () => {
      lay([...$(input).files]);
      $(input).value = '';
    });
  }
  document.addEventListener('dragover', (event) => {
    if (!bringsFiles(event)) return;
    event.preventDefault();
    place.classList.add('over');
  });
  document.addEventListener('dragleave', (event) => {
    if (!event.relatedTarget) place.classList.remove('over');
  });
  document.addEventListener('drop', async (event) => {
    if (!bringsFiles(event)) return;
    event.preventDefault();
    place.classList.remove('over');
    lay(await filesOf(event.dataTransfer));
  });

  // ---------------------------------------------------------------- beginning

  $('beginning').addEventListener('submit', async (event) => {
    event.preventDefault();
    working(true);
    try {
      const { folder } = await link.post('new', { title: $('title').value });
      const came = await copy(folder);
      if (!came) {
        await link.post('giveup', { folder });
        throw new Error('None of these could be read');
      }
      await begin(folder, what());
    } catch (error) {
      $('told').textContent = error.message;
      working(false);
    }
  });

  /** Copy what is laid down; return how many came in. */
  async function copy(folder) {
    let came = 0;
    for (const { file, item, told } of laid) {
      if (!ART.test(file.name)) {
        told.textContent = 'Left out: this is no art';
        item.dataset.state = 'refused';
        continue;
      }
      told.textContent = 'Reading …';
      try {
        const { motifs, notes } = await link.send('drop', file, { folder, what: what(), name: file.name });
        told.textContent = [motifs ? `${motifs} ${motifs === 1 ? 'motif' : 'motifs'}` : 'In', ...notes].join('. ');
        item.dataset.state = 'in';
        came += 1;
      } catch (error) {
        told.textContent = `Left out: ${error.message}`;
        item.dataset.state = 'refused';
      }
    }
    return came;
  }

  async function begin(folder, kind) {
    const settings = kind === 'motifs' ? { density: $('density').value } : {};
    const job = await link.post('begin', { folder, what: kind, settings });
    awaited = { number: job.number, kind };
    jobs.hear({ job });
    $('told').textContent = kind === 'tile' ? 'Checking …' : 'Making the first cloth …';
  }

  $('demo').addEventListener('click', async () => {
    working(true);
    try {
      const { folder } = await link.post('demo', {});
      await begin(folder, 'page');
    } catch (error) {
      $('told').textContent = error.message;
      working(false);
    }
  });

  jobs.addEventListener('ended', ({ detail }) => {
    if (detail.number !== awaited?.number) return;
    const refused = laid.some(({ item }) => item.dataset.state === 'refused');
    working(false);
    if (detail.state !== 'done') {
      $('told').textContent = detail.error || 'Stopped';
    } else if (awaited.kind === 'tile') {
      $('told').textContent = 'Checked; the findings are below';
      listWritten($('found'), $('foundfolder'), detail.design);
      $('repeated').href = link.pageOf(detail.design);
      $('repeated').hidden = false;
    } else if (refused) {
      // Whoever was told why something stays out has time to read it.
      $('told').textContent = 'The first cloth is on the shelf, without what was left out';
    } else {
      location.href = link.pageOf(detail.design);
    }
  });

  function working(on) {
    for (const id of ['begin', 'clear', 'demo', 'choose', 'choosefolder']) $(id).disabled = on;
  }
}

/** A design's name from what it is begun with: the folder's, or the only file's. */
function titleOf(files) {
  const path = files[0].webkitRelativePath;
  if (!path && files.length > 1) return 'New design';
  const name = path ? path.split('/')[0] : files[0].name.replace(/\.[^.]+$/, '');
  return name.replace(/[-_]+/g, ' ').slice(0, 60);
}
