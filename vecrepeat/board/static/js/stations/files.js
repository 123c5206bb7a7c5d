// Files: what the printer wants, how large and how long beforehand, what was written when.

import { Jobs } from '../jobs.js';
import { duration, fileSize } from '../lengths.js';
import * as link from '../link.js';
import { sayDeed } from '../said.js';
import { TAB } from '../store.js';
import { listWritten } from '../written.js';

const PIXELS = [['png', 'PNG'], ['tif', 'TIFF'], ['pdf', 'PDF, vector'], ['jpg', 'JPEG'], ['webp', 'WebP']];
const LIMITS = [['', 'as it stands'], ['cloth-digital', 'cloth, printed digitally'], ['cloth-rotary', 'cloth, rotary screens'], ['wallpaper-digital', 'wallpaper, printed digitally'], ['screen', 'screen printing by hand']];
const PRINT = ['colourway', 'ending', 'dpi', 'repeat-width', 'profile', 'transparent', 'max-bytes', 'bleed', 'marks'];

/** What can be written: the command's name, its fields, formats, and settings that go without asking. */
const DEEDS = {
  tile: { word: 'One tile', kind: 'export', fields: [...PRINT, 'across'], endings: PIXELS },
  block: { word: 'A straight block', kind: 'export', fields: PRINT, endings: PIXELS, fixed: { block: true } },
  sheet: { word: 'A sheet full of it', kind: 'export', fields: ['sheet', ...PRINT], endings: PIXELS },
  compose: { word: 'An SVG pattern', kind: 'compose', fields: ['colourway', 'sheet'], endings: [['svg', 'SVG']] },
  proof: { word: 'A proof sheet', kind: 'proof', fields: ['colourway', 'ending', 'paper', 'limits', 'repeat-width'], endings: [['pdf', 'PDF'], ['html', 'a page to look at'], ['png', 'PNG']] },
  spec: { word: 'A spec sheet', kind: 'spec', fields: ['colourway', 'ending', 'limits', 'repeat-width'], endings: [['pdf', 'PDF'], ['png', 'PNG'], ['svg', 'SVG']] },
  plates: { word: 'Plates, one a colour', kind: 'separate', fields: ['colourway', 'format', 'colours', 'soft', 'trap', 'repeat-width'] },
  cloth: { word: 'A cut of cloth', kind: 'cloth', fields: ['colourway', 'cut', 'bolt', 'ending', 'dpi', 'repeat-width', 'selvedge', 'one-way'], endings: PIXELS },
  roll: { word: 'Wallpaper for a wall', kind: 'roll', fields: ['colourway', 'wall', 'roll', 'ending', 'dpi', 'overlap', 'repeat-width'], endings: PIXELS },
};

/** What a printer of such goods mostly wants (common practice, no source). */
const GOODS = {
  '': { word: 'my own numbers' },
  cloth: { word: 'cloth, printed digitally', deed: 'tile', ending: 'png', dpi: 150, limits: 'cloth-digital' },
  rotary: { word: 'cloth, rotary screens', deed: 'plates', format: 'tiff', limits: 'cloth-rotary' },
  wallpaper: { word: 'wallpaper, printed digitally', deed: 'block', ending: 'tif', dpi: 300, limits: 'wallpaper-digital' },
  shop: { word: 'a picture for a shop', deed: 'tile', ending: 'jpg', across: 1500, 'max-bytes': '2MB' },
};

const FIELDS = {
  colourway: { label: 'Colourway', options: [] },
  ending: { label: 'Format', options: [] },
  format: { label: 'Format of plates', options: [['svg', 'SVG'], ['pdf', 'PDF'], ['tiff', 'TIFF']] },
  sheet: { label: 'Sheet, wide × high', value: '54x36in', hint: '54x36in' },
  dpi: { label: 'Dots per inch', type: 'number', min: 1, max: 2400, value: 150 },
  across: { label: 'or pixels across', type: 'number', min: 1, max: 100000 },
  'repeat-width': { label: 'One tile printed at', hint: 'as the tile is' },
  profile: { label: 'Colour profile', hint: 'a file here' },
  transparent: { label: 'Without the ground', type: 'checkbox', formats: ['png', 'tif', 'webp'] },
  'max-bytes': { label: 'At most', hint: '2MB', formats: ['jpg', 'webp'] },
  bleed: { label: 'Bleed', hint: 'none', formats: ['pdf'] },
  marks: { label: 'Trim marks', type: 'checkbox', formats: ['pdf'] },
  paper: { label: 'Paper', options: [['a3', 'A3'], ['a4', 'A4']] },
  limits: { label: 'Judged for', option: 'profile', options: LIMITS },
  colours: { label: 'Inks', type: 'number', min: 1, max: 32, hint: 'one for each flat colour' },
  soft: { label: 'Soft colours', options: [['', 'refused'], ['flat', 'as flat steps'], ['halftone', 'as dots'], ['tint', 'as tints']] },
  trap: { label: 'Trap', hint: 'none, or 0.2mm' },
  cut: { label: 'Cut', options: ['metre', 'half-metre', 'yard', 'half-yard', 'quarter-yard', 'fat-quarter', 'fat-eighth'].map((one) => [one, one.replace('-', ' ')]) },
  bolt: { label: 'Bolt', value: '140cm', hint: '140cm' },
  selvedge: { label: 'Selvedge', hint: 'none' },
  'one-way': { label: 'It has a top', type: 'checkbox' },
  wall: { label: 'Wall, wide × high', value: '4x2.5m' },
  roll: { label: 'Roll, wide × long', value: '53cmx10.05m' },
  overlap: { label: 'Drops overlap by', hint: 'none' },
};

export function bindFiles(table, store, $) {
  const inputs = Object.fromEntries(Object.entries(FIELDS).map(([name, field]) => [name, inputOf(name, field)]));
  $('filefields').append(...Object.values(inputs).map((input) => input.closest('label')));
  $('filedeed').append(...Object.entries(DEEDS).map(([name, { word }]) => new Option(word, name)));
  $('filegoods').append(...Object.entries(GOODS).map(([name, { word }]) => new Option(word, name)));

  const deed = () => DEEDS[$('filedeed').value];
  const written = () => listWritten($('written'), $('writtenfolder'));
  const jobs = new Jobs($('jobs'), (job) => job.design === link.DESIGN && job.kind !== 'begin');
  store.addEventListener('jobs', ({ detail }) => jobs.hear(detail));
  jobs.addEventListener('ended', ({ detail }) => {
    if (detail.design !== link.DESIGN || detail.kind === 'begin') return;
    const told = { done: 'Written', stopped: 'Stopped', failed: 'Not written' }[detail.state];
    store.notice(detail.error ? `${told}: ${detail.error}` : told, detail.state === 'failed');
    written();
  });

  /** Show what the deed is asked with. */
  function show() {
    const { endings = [], fields } = deed();
    const { ending } = inputs;
    const chosen = endings.some(([value]) => value === ending.value) ? ending.value : endings[0]?.[0];
    ending.replaceChildren(...endings.map(([value, word]) => new Option(word, value, false, value === chosen)));
    for (const [name, input] of Object.entries(inputs)) {
      const { formats } = FIELDS[name];
      input.closest('label').hidden = !fields.includes(name) || Boolean(formats && !formats.includes(chosen));
    }
    const ways = store.now.colourways.map(({ name }) => name);
    const worn = inputs.colourway.value;
    inputs.colourway.replaceChildren(new Option('as drawn', ''), ...ways.map((name) => new Option(name, name, false, name === worn)));
    if (!ways.length) inputs.colourway.closest('label').hidden = true;
    tell();
  }

  function settings() {
    const found = { ...deed().fixed, name: $('filename').value.trim() };
    if (deed().endings) found.ending = deed().endings.length > 1 ? inputs.ending.value : deed().endings[0][0];
    for (const [name, input] of Object.entries(inputs)) {
      if (input.closest('label').hidden || name === 'ending' || name === 'across') continue;
      const value = input.type === 'checkbox' ? input.checked : input.value.trim();
      if (value) found[FIELDS[name].option ?? name] = value;
    }
    return found;
  }

  // ---------------------------------------------------------------- beforehand

  let latest = 0;
  let waits = 0;
  /** Say the command, and how large the file will be. */
  function tell() {
    const mine = ++latest;
    clearTimeout(waits);
    $('foreseen').textContent = '';
    waits = setTimeout(async () => {
      const asked = settings();
      const error = await sayDeed($('filesaid'), deed().kind, asked);
      if (mine !== latest) return;
      $('foreseen').textContent = error ? error.message : deed().kind === 'export' ? 'Working out how large …' : '';
      $('foreseen').classList.toggle('grave', Boolean(error));
      if (error || deed().kind !== 'export') return;
      let text;
      try {
        const told = await link.post('foresee', { settings: asked, by: TAB });
        const px = told.pixels && `${told.pixels.map((v) => v.toLocaleString('en')).join(' × ')} px`;
        const mm = `${told.size.map((v) => Math.round(v)).join(' × ')} mm`;
        text = [[px, mm, `about ${fileSize(told.bytes)}`, duration(told.seconds)].filter(Boolean).join(', '), ...told.notes].join('. ');
      } catch (failure) {
        text = failure.message;
      }
      if (mine === latest) $('foreseen').textContent = text;
    }, 350);
  }

  /** Bring dpi and pixels across together: the one that was typed leads. */
  function agree(led) {
    const printed = /^\s*([\d.]+)\s*(mm|cm|in)\s*$/.exec(inputs['repeat-width'].value);
    const mm = printed ? Number(printed[1]) * { mm: 1, cm: 10, in: 25.4 }[printed[2]] : table.lie.tile[0];
    if (led === 'across' && inputs.across.value) inputs.dpi.value = Number(((Number(inputs.across.value) * 25.4) / mm).toFixed(6));
    else inputs.across.value = Math.round((Number(inputs.dpi.value) * mm) / 25.4);
  }

  $('filedeed').addEventListener('change', () => {
    $('filegoods').value = '';
    show();
  });
  $('filegoods').addEventListener('change', () => {
    const { deed: wanted, word, ...values } = GOODS[$('filegoods').value];
    if (wanted) $('filedeed').value = wanted;
    show();
    for (const [name, value] of Object.entries(values)) inputs[name].value = value;
    agree('across' in values ? 'across' : 'dpi');
    show();
  });
  for (const [name, input] of Object.entries(inputs)) {
    input.addEventListener('change', () => {
      if (['dpi', 'across', 'repeat-width'].includes(name)) agree(name);
      show();
    });
  }
  $('filename').addEventListener('input', tell);
  $('files').addEventListener('submit', async (event) => {
    event.preventDefault();
    try {
      await store.send();
      jobs.hear({ job: await link.post('start', { kind: deed().kind, settings: settings() }) });
    } catch (error) {
      store.notice(error.message, true);
    }
  });

  let begun = false;
  return {
    shown() {
      if (!begun) agree('dpi');
      begun = true;
      show();
      // What is written is what is seen.
      inputs.colourway.value = table.dressing.worn;
      tell();
      written();
    },
    changed() {
      if (begun && !$('station-files').hidden) show();
    },
  };
}

function inputOf(name, { label, type = 'text', options, hint, value, min, max }) {
  const outer = document.createElement('label');
  const input = document.createElement(options ? 'select' : 'input');
  input.id = `file-${name}`;
  if (options) {
    input.append(...options.map(([one, word]) => new Option(word, one)));
  } else {
    Object.assign(input, { type, autocomplete: 'off', spellcheck: false });
    if (type === 'number') Object.assign(input, { min, max, step: 'any' });
    if (hint) input.placeholder = hint;
    if (value !== undefined) input.value = value;
  }
  if (type === 'checkbox') {
    outer.className = 'tick';
    outer.append(input, ` ${label}`);
  } else {
    outer.append(label, input);
  }
  return input;
}
