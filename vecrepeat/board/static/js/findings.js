// What a check finds: each finding with a way there, and a deed where a machine can mend it.

import * as link from './link.js';
import { rounded } from './placements.js';
import { TAB } from './store.js';
import { freshName } from './ways.js';

/** The command's own comes first. */
const LIMITS = [['cloth-digital', 'digital cloth'], ['cloth-rotary', 'rotary screens'], ['screen', 'screens by hand'], ['wallpaper-digital', 'digital wallpaper']];

export function bindFindings(table, store, $) {
  let latest = 0;
  let on = null;
  $('limits').replaceChildren(...LIMITS.map(([name, words]) => new Option(words, name)));

  async function check() {
    const mine = ++latest;
    $('check').disabled = true;
    $('checked').textContent = 'Checking …';
    try {
      await store.send();
      on = store.now;
      const answer = await link.post('find', { profile: $('limits').value, row: table.dressing.row, by: TAB });
      if (mine === latest) show(answer);
    } catch (error) {
      if (mine === latest) $('checked').textContent = error.message;
    }
    $('check').disabled = false;
  }

  function show({ found, count }) {
    const more = count > found.length ? `, the first ${found.length} of them here` : '';
    $('checked').textContent = count ? `${count} ${count === 1 ? 'finding' : 'findings'}${more}.` : 'Nothing found.';
    $('findings').replaceChildren(...found.map((finding) => itemOf(finding)));
  }

  function itemOf(finding) {
    const item = document.createElement('li');
    const [what, advice, row] = ['p', 'p', 'div'].map((tag) => document.createElement(tag));
    const measure = finding.measure && `: ${finding.measure}`;
    what.textContent = `${finding.what[0].toUpperCase()}${finding.what.slice(1)}${measure}.`;
    advice.textContent = finding.advice ? `${finding.advice[0].toUpperCase()}${finding.advice.slice(1)}.` : '';
    advice.className = 'hint';
    row.className = 'row wrap';
    if (finding.at) row.append(button('Go there', () => go(finding)));
    for (const mend of finding.mends) row.append(button(wordOf(mend), () => doMend(mend)));
    item.append(what, advice, row);
    return item;
  }

  /** Bring a finding to the middle, mark it, and pick the motifs that lie there. */
  function go({ at, bounds, motifs, what }) {
    const near = store.now.order.filter((key) => motifs.includes(store.now.rows.get(key).motif));
    table.picked.clear();
    table.goTo(at);
    const size = Math.max(bounds[2] - bounds[0], bounds[3] - bounds[1], 2);
    table.seen = { ...table.seen, place: { x: at[0], y: at[1], radius: Math.min(size / 2 + 2, Math.min(...table.lie.tile) / 2) } };
    for (const key of near) {
      const copy = table.nearestCopy(key);
      if (table.reaches(key, copy, at)) table.picked.set(key, copy);
    }
    table.repicked();
    store.notice(`${what}, at ${at.map((v) => rounded(v, 1)).join(', ')} mm`);
  }

  async function doMend(mend) {
    if (on !== store.now) {
      store.notice('The cloth has changed since it was checked; check it again', true);
      return;
    }
    try {
      await MENDS[mend.deed](table, store, mend);
    } catch (error) {
      store.notice(error.message, true);
      return;
    }
    await check();
  }

  $('check').addEventListener('click', check);
  return {
    changed() {
      if (!on || on === store.now) return;
      latest++;
      on = null;
      $('check').disabled = false;
      $('checked').textContent = 'The cloth has changed since it was checked.';
      $('findings').replaceChildren();
    },
  };
}

function button(word, deed) {
  const made = document.createElement('button');
  made.type = 'button';
  made.textContent = word;
  made.addEventListener('click', deed);
  return made;
}

const LAYOUTS = { 'half-drop': 'Shift every other column', brick: 'Shift every other row' };

function wordOf({ deed, layout, motif, factor, least, colour, into }) {
  if (deed === 'fill') return 'Fill this void';
  if (deed === 'relay') return LAYOUTS[layout];
  if (deed === 'thicken') return `Thicken ${motif}’s lines to ${least} mm`;
  if (deed === 'enlarge') return `Make every ${motif} ${Math.round((factor - 1) * 100)} % larger`;
  return `Make ${colour} ${into}`;
}

/** Each is one step, which can be undone. */
const MENDS = {
  async fill(table, store, { x, y, radius }) {
    const { rows } = await link.post('fill', { void: { x, y, radius }, by: TAB });
    if (!rows.length) throw new Error('No filler is small enough for it');
    table.strew(rows, 'void filled', { over: true });
  },
  async relay(table, store, { layout }) {
    table.relay(layout);
  },
  async thicken(table, store, { motif, least }) {
    const { motifs } = store.now;
    store.commit({ ...store.now, motifs: { ...motifs, [motif]: { ...motifs[motif], 'least-line': least } } }, `${motif}’s lines ${least} mm thick`);
  },
  async enlarge(table, store, { motif, factor }) {
    const rows = new Map(store.now.rows);
    for (const [key, row] of rows) if (row.motif === motif) rows.set(key, { ...row, scale: rounded(row.scale * factor, 5) });
    store.commit({ ...store.now, rows }, `${motif} made larger`);
  },
  async merge(table, store, { colour, into }) {
    const { dressing } = table;
    const ways = store.now.colourways;
    const { row } = dressing;
    const next = row
      ? { ...row, colours: merged(row.colours ?? {}, dressing.targets, colour, into) }
      : { name: freshName(ways, 'my colours'), colours: { [into]: into, [colour]: into } };
    const rows = row ? ways.map((one) => (one === row ? next : one)) : [...ways, next];
    dressing.worn = next.name;
    store.commit({ ...store.now, colourways: rows }, `${colour} made ${into}`);
  },
};

/** A colourway's colours with all that becomes either of two becoming one. */
function merged(colours, targets, colour, into) {
  const became = Object.keys(targets).filter((from) => [colour, into].includes(targets[from]));
  return { ...colours, ...Object.fromEntries(became.map((from) => [from, into])) };
}
