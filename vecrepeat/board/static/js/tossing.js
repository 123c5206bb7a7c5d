// Toss and fill by seed, and the command that does the same.

import * as link from './link.js';
import { sayDeed } from './said.js';
import { TAB } from './store.js';

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

  const settings = () => ({
    seed: Number($('seed').value),
    clearance: `${Number($('tossclearance').value)}mm`,
    direction: $('direction').value,
  });
  const say = () => {
    sayDeed($('tosssaid'), 'toss', { ...settings(), again: true });
    sayDeed($('fillsaid'), 'fill', settings());
  };
  for (const id of ['seed', 'tossclearance', 'direction']) $(id).addEventListener('change', say);
  $('tossclearance').closest('details').addEventListener('toggle', say, { once: true });

  $('toss').addEventListener('click', () => arrange('toss', 'tossed'));
  $('fill').addEventListener('click', () => arrange('fill', 'filled'));
  $('nextseed').addEventListener('click', () => {
    $('seed').value = Number($('seed').value) + 1;
    say();
    arrange('toss', 'tossed');
  });
}
