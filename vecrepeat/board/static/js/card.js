// The card beside the cloth: what is picked, the stack, what to look for, toss and fill.

import * as link from './link.js';
import { middleOf, rounded } from './placements.js';
import { TAB } from './store.js';

const FIELDS = { px: 'at', py: 'at', pturn: 'turn', pscale: 'scale' };

export function bindCard(table, store, $) {
  const deeds = {
    flip: () => table.flip(),
    copy: () => table.copy(),
    over: () => table.restack(1),
    under: () => table.restack(-1),
    pin: () => table.pinDown(),
    remove: () => table.remove(),
  };
  $('deeds').addEventListener('click', ({ target }) => deeds[target.dataset?.deed]?.());
  $('pose').addEventListener('submit', (event) => event.preventDefault());
  for (const id of Object.keys(FIELDS)) {
    $(id).addEventListener('change', () => {
      if (table.picked.size !== 1 || !$(id).reportValidity()) return;
      const values = { at: [Number($('px').value), Number($('py').value)] };
      values.turn = ((Number($('pturn').value) % 360) + 360) % 360;
      values.scale = rounded(Number($('pscale').value) / 100, 4);
      const [key] = table.picked.keys();
      const row = store.now.rows.get(key);
      const now = shown(row, store);
      // A field that shows fewer decimals than there are changes nothing by being looked at.
      if (values.at.every((v, k) => v === now.at[k])) values.at = row.at;
      if (values.turn === now.turn) values.turn = row.turn;
      if (values.scale === rounded(now.percent / 100, 4)) values.scale = row.scale;
      table.pose(values);
    });
  }

  $('stack').addEventListener('click', (event) => {
    const key = event.target.closest('li')?.dataset.key;
    if (!key) return;
    const more = event.ctrlKey || event.metaKey || event.shiftKey || $('several').getAttribute('aria-pressed') === 'true';
    if (more && table.picked.has(key)) table.unpick(key);
    else table.pick(key, table.nearestCopy(key), { more });
    table.bringIntoSight();
  });
  $('stack').addEventListener('keydown', (event) => {
    const by = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    if (!by) return;
    event.preventDefault();
    if (event.altKey) table.restack(by);
    else table.pickNext(by);
  });

  function showPicked() {
    const keys = [...table.picked.keys()];
    const one = keys.length === 1 && store.now.rows.get(keys[0]);
    $('pickedname').textContent = keys.length
      ? keys.length === 1 ? keys.map((key) => table.rowOf(key).motif).join() : `${keys.length} motifs`
      : 'Nothing. Touch a motif on the cloth, or take one from the tray.';
    $('pickedname').classList.toggle('one', keys.length > 0);
    $('pose').hidden = !one;
    $('deeds').hidden = !keys.length;
    const pinned = keys.length > 0 && keys.every((key) => table.pinned.has(key));
    $('deeds').querySelector('[data-deed=pin]').setAttribute('aria-pressed', String(pinned));
    if (one) {
      const { at, turn, percent } = shown(one, store);
      const values = { px: at[0], py: at[1], pturn: turn, pscale: percent };
      for (const [id, value] of Object.entries(values)) if (document.activeElement !== $(id) || $(id).validity.valid) $(id).value = value;
    }
    showStack();
  }

  function showStack() {
    const { order, rows } = store.now;
    const wanted = order.toReversed();
    const items = new Map([...$('stack').children].map((item) => [item.dataset.key, item]));
    const list = wanted.map((key) => {
      const item = items.get(key) ?? document.createElement('li');
      item.dataset.key = key;
      item.id = `stack-${key}`;
      item.setAttribute('role', 'option');
      item.textContent = rows.get(key).motif + (table.pinned.has(key) ? ', pinned down' : '');
      item.setAttribute('aria-selected', String(table.picked.has(key)));
      return item;
    });
    const same = list.length === $('stack').children.length && list.every((item, k) => item === $('stack').children[k]);
    if (!same) $('stack').replaceChildren(...list);
    const last = [...table.picked.keys()].at(-1);
    if (last && items.has(last)) {
      $('stack').setAttribute('aria-activedescendant', `stack-${last}`);
      if ($('stack').closest('details').open) items.get(last).scrollIntoView({ block: 'nearest' });
    } else {
      $('stack').removeAttribute('aria-activedescendant');
    }
  }
  return showPicked;
}

/** A row as the fields show it. */
function shown(row, store) {
  const at = row.at ?? middleOf(store.motifs.get(row.motif));
  return { at: at.map((v) => rounded(v, 2)), turn: rounded(row.turn, 1), percent: rounded(row.scale * 100, 1) };
}

const LOOKS = { seeclearance: 'clearance', seevoids: 'voids', seealleys: 'alleys' };

/** Looking for things: asked of the server again whenever the cloth has changed. */
export function bindLooking(table, store, $) {
  let latest = 0;

  const asked = () => Object.keys(LOOKS).filter((id) => $(id).checked).map((id) => LOOKS[id]);

  async function look() {
    const mine = ++latest;
    const what = asked();
    if (!what.length) {
      show(null);
      return;
    }
    try {
      $('seen').textContent ||= 'Looking …';
      await store.send();
      // A newer look takes the place of this one, here as on the server.
      if (mine !== latest) return;
      const seen = await link.post('look', { what, clearance: Number($('clearance').value) || 0, by: TAB });
      // What was found on the cloth as it was a moment ago is not drawn on another.
      if (mine === latest && seen.steps === store.kept) show(seen);
    } catch (error) {
      if (mine !== latest) return;
      show(null);
      store.notice(error.message, true);
    }
  }

  function show(seen) {
    table.seen = seen;
    $('seen').textContent = seen ? told(seen) : '';
    table.drawMarks();
  }

  for (const id of [...Object.keys(LOOKS), 'clearance']) $(id).addEventListener('change', look);
  return () => {
    if (asked().length) look();
  };
}

function told({ clearance, voids, alleys }) {
  const parts = [];
  if (clearance) {
    const [near, over] = clearance.counts;
    parts.push(`${near} pairs nearer than the clearance, ${over} overlap.`);
  }
  if (voids) {
    const [first] = voids.circles;
    const far = voids.circles.filter((circle) => circle.far).length;
    parts.push(first ? `Largest void ${rounded(2 * first.radius, 1)} mm wide; ${far} stand out.` : 'No voids: nothing is placed.');
  }
  if (alleys) {
    const wide = alleys.lanes.filter((lane) => lane.width_mm > alleys.limit).length;
    parts.push(alleys.lanes.length ? `${alleys.lanes.length} empty lanes, ${wide} of them alleys.` : 'No alleys.');
  }
  return parts.join(' ');
}

/** Toss and fill by seed. */
export function bindTossing(table, store, $) {
  const { toss } = store.data;
  if (toss.seed !== undefined) $('seed').value = toss.seed;
  if (toss.clearance !== undefined) $('tossclearance').value = toss.clearance;
  if (toss.direction) $('direction').value = toss.direction;

  async function arrange(path, words) {
    for (const id of ['seed', 'tossclearance']) if (!$(id).reportValidity()) return;
    const buttons = ['toss', 'fill', 'nextseed'].map($);
    for (const button of buttons) button.disabled = true;
    $('tossed').textContent = 'Working …';
    try {
      await store.send();
      const state = store.now;
      const seed = Number($('seed').value);
      const done = await link.post(path, {
        seed,
        clearance: Number($('tossclearance').value),
        direction: $('direction').value,
        by: TAB,
      });
      if (state !== store.now) throw new Error('The cloth was changed meanwhile; try again');
      if (done.rows.length) table.strew(done.rows, `${words} with seed ${seed}`, path === 'fill');
      $('tossed').textContent = [done.line, ...done.notes].join('. ');
    } catch (error) {
      $('tossed').textContent = '';
      store.notice(error.message, true);
    }
    for (const button of buttons) button.disabled = false;
  }

  $('toss').addEventListener('click', () => arrange('toss', 'tossed'));
  $('fill').addEventListener('click', () => arrange('fill', 'filled'));
  $('nextseed').addEventListener('click', () => {
    $('seed').value = Number($('seed').value) + 1;
    arrange('toss', 'tossed');
  });
}

/** The cloth in another colourway of the recipe's: to look at, not to keep. */
export function bindDressing(table, store, $, dressed) {
  const { colourways } = store.data;
  $('dressing').hidden = !colourways.length;
  $('colourway').append(...colourways.map((name) => new Option(name, name)));
  $('colourway').addEventListener('change', async () => {
    try {
      await table.dress(await link.post('dress', { colourway: $('colourway').value }));
      await dressed();
    } catch (error) {
      store.notice(error.message, true);
    }
  });
}
