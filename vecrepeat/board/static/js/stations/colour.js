// Colour: main colours as swatches, colourways kept in the recipe, and how they compare.

import { Bands, MOST } from '../bands.js';
import { Dressing } from '../dressing.js';
import { runJob } from '../jobs.js';
import * as link from '../link.js';
import { bindMixing } from '../mixing.js';
import { Recolouring } from '../recolouring.js';
import { sayDeed, showSaid } from '../said.js';
import { showPicture } from '../shown.js';
import { chipsOf, swatchesOf } from '../swatches.js';
import { freshName, saidWay, withColour } from '../ways.js';

/** The recipe's lines are shown while a person would read them. */
const MOST_SAID = 24;

export function bindColour(table, store, $, { dressed }) {
  const dressing = new Dressing(table, store);
  const recolouring = new Recolouring(table, store, dressing);
  const bands = new Bands(table, store, dressing, $('bandlabels'));
  table.dressing = dressing;
  let main = null;
  let measuredOn = null;
  let chosen = null;
  let judged = '';

  const ways = () => store.now.colourways;
  const open = () => !$('station-colour').hidden;

  /** Make a step of other colourways, and wear one of them. */
  function put(rows, what, worn) {
    dressing.worn = worn;
    store.commit({ ...store.now, colourways: rows }, what);
    store.notice(what);
  }

  /** The worn colourway, or a new one where the cloth is as drawn. */
  function own() {
    return dressing.row ?? { name: freshName(ways(), 'my colours'), colours: {} };
  }

  function replaced(row) {
    const known = ways().some((one) => one.name === dressing.worn);
    return known ? ways().map((one) => (one.name === dressing.worn ? row : one)) : [...ways(), row];
  }

  // ---------------------------------------------------------------- main colours

  async function measure() {
    const on = [store.now.order, store.now.rows, store.now.layout, store.now.tile, store.now.ground, store.now.motifs];
    if (measuredOn?.every((one, k) => one === on[k])) return;
    measuredOn = on;
    $('measuring').textContent = 'Measuring the colours …';
    try {
      const found = await dressing.ask('colours');
      if (measuredOn !== on) return;
      main = found;
      recolouring.forget();
      $('measuring').textContent = '';
      showColours();
      judge();
    } catch (error) {
      if (measuredOn !== on) return;
      measuredOn = null;
      $('measuring').textContent = error.message;
    }
  }

  const ground = () => dressing.row?.ground;

  /** What can be moved: main colours, and a colourway's own ground. */
  function entries() {
    if (!main) return [];
    const found = main.colours.map((entry, number) => {
      const along = entry.ground && !ground() ? [main.colours.length] : [];
      return { ...entry, now: dressing.of(entry), numbers: [number, ...along] };
    });
    if (!ground() || ground() === 'none') return found;
    const alone = { key: 'ground', name: 'ground', colour: ground(), now: ground(), members: [], ramps: [], own: true };
    return [{ ...alone, numbers: [main.colours.length] }, ...found];
  }

  function showColours() {
    const list = entries();
    const entry = list.find(({ key }) => key === chosen);
    swatchesOf($('maincolours'), list, chosen, dressing, choose);
    mixing.show(entry ?? null);
  }

  async function choose(key) {
    chosen = chosen === key ? null : key;
    recolouring.letGo();
    showColours();
    // On a phone it would lie below the card's edge.
    $('mixing').scrollIntoView({ block: 'nearest' });
    await takeUp();
  }

  /** Have the chosen colour ready before a finger moves it. */
  async function takeUp() {
    const entry = entries().find(({ key }) => key === chosen);
    if (!entry || bands.shown) return;
    try {
      await recolouring.take(entry.numbers, main.pictured);
    } catch (error) {
      store.notice(error.message, true);
    }
  }

  const mixing = bindMixing($, {
    moved(entry, colour) {
      recolouring.show(entry.now, colour);
    },
    laid(entry, colour) {
      if (colour === entry.now) return;
      const row = own();
      const next = entry.own ? { ...row, ground: colour } : withColour(row, entry, colour);
      put(replaced(next), `${entry.name} ${colour} in ${row.name}`, row.name);
    },
  });

  // ---------------------------------------------------------------- colourways

  function showWays() {
    const row = dressing.row;
    const named = [null, ...ways()];
    $('ways').replaceChildren(...named.map((one) => {
      const item = document.createElement('li');
      const button = document.createElement('button');
      button.type = 'button';
      button.dataset.way = one?.name ?? '';
      button.setAttribute('aria-pressed', String((one?.name ?? '') === dressing.worn));
      button.append(one?.name ?? 'as drawn', chipsOf(one, main));
      button.addEventListener('click', () => wear(one?.name ?? ''));
      item.append(button);
      return item;
    }));
    $('wayname').hidden = $('wayremove').hidden = !row;
    $('wayfield').value = row?.name ?? '';
    const short = row && Object.keys(row.colours ?? {}).length <= MOST_SAID;
    showSaid($('waysaid'), short ? saidWay(row) : '');
    $('noway').hidden = row !== null;
    $('lineup').disabled = $('sidebyside').disabled = !ways().length;
    sayDeed($('lineupsaid'), 'colourways', { format: 'none' });
  }

  async function wear(name) {
    recolouring.letGo();
    await dressing.wear(name);
    showAll();
  }

  function showAll() {
    showWays();
    showColours();
    judge();
  }

  $('waycopy').addEventListener('click', () => {
    const row = own();
    const name = freshName(ways(), row.name);
    put([...ways(), { ...row, name }], `colourway ${name}`, name);
  });
  $('wayremove').addEventListener('click', () => {
    put(ways().filter((one) => one !== dressing.row), `colourway ${dressing.worn} taken away`, '');
  });
  $('wayname').addEventListener('submit', (event) => {
    event.preventDefault();
    $('wayfield').blur();
  });
  $('wayfield').addEventListener('change', () => {
    const { row } = dressing;
    const wanted = $('wayfield').value.trim();
    if (!row || !wanted || wanted === row.name) return;
    const name = freshName(ways().filter((one) => one !== row), wanted);
    put(replaced({ ...row, name }), `colourway ${row.name} is called ${name}`, name);
  });

  // ---------------------------------------------------------------- telling apart

  async function judge() {
    const { row } = dressing;
    const key = JSON.stringify([row, measuredOn && store.kept]);
    if (!main || key === judged) return;
    judged = key;
    try {
      const { lines } = await dressing.ask('judge', { row });
      if (judged !== key) return;
      $('alike').replaceChildren(...(lines.length ? lines : ['Nothing that touches.']).map((line) => {
        const item = document.createElement('li');
        item.textContent = line;
        return item;
      }));
    } catch (error) {
      if (judged === key) judged = '';
    }
  }

  // ---------------------------------------------------------------- suggestions

  $('suggest').addEventListener('click', async () => {
    $('suggest').disabled = true;
    try {
      const { rows } = await dressing.ask('suggest');
      $('suggestions').replaceChildren(...rows.map((row) => {
        const item = document.createElement('li');
        const button = document.createElement('button');
        button.type = 'button';
        button.append(row.name, chipsOf(row, main));
        button.setAttribute('aria-label', `Take up the colourway ${row.name}`);
        button.addEventListener('click', () => {
          const name = freshName(ways(), row.name);
          put([...ways(), { ...row, name }], `colourway ${name}`, name);
        });
        item.append(button);
        return item;
      }));
    } catch (error) {
      store.notice(error.message, true);
    }
    $('suggest').disabled = false;
  });

  // ---------------------------------------------------------------- comparing

  async function compare(on) {
    $('sidebyside').setAttribute('aria-pressed', String(on));
    const others = ways().filter((row) => row !== dressing.row);
    const rows = [null, ...(dressing.row ? [dressing.row] : []), ...others].slice(0, MOST);
    $('compared').textContent = on ? rows.map((row) => row?.name ?? 'as drawn').join(', ') : '';
    try {
      on ? await bands.show(rows) : bands.hide();
    } catch (error) {
      store.notice(error.message, true);
    }
  }
  $('sidebyside').addEventListener('click', () => compare(!bands.shown));
  async function drawLineup() {
    await store.send();
    await runJob(store, { kind: 'colourways', settings: { format: 'none' } });
    const { files } = await link.get('written');
    const { file } = files.find((one) => one.file.endsWith('/line-up.png'));
    return (await link.post('take', { file })).address;
  }
  $('lineup').addEventListener('click', () => showPicture($, 'Line-up', drawLineup()));

  // ---------------------------------------------------------------- news

  dressing.addEventListener('dressed', () => {
    dressed();
    if (open()) {
      showColours();
      takeUp();
    }
  });
  table.addEventListener('viewed', () => {
    if (open() && chosen) takeUp();
  });
  return {
    async shown() {
      showWays();
      measure();
    },
    async changed() {
      const shown = dressing.refresh();
      showWays();
      if (open()) measure();
      await shown;
      if (open()) {
        showColours();
        judge();
      }
      if (bands.shown) compare(true);
    },
  };
}
