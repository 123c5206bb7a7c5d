// Laying motifs anew, by any of the ways there are, and the command that does the same.

import { filledOut } from './history.js';
import * as link from './link.js';
import { sayDeed } from './said.js';
import { bindSettings } from './settings.js';
import { TAB } from './store.js';
import { bindTrials } from './trials.js';

const WAYS = {
  toss: ['Toss: strewn evenly', 'Toss all', 'tossed'],
  fill: ['Fill: fillers into the voids', 'Fill voids', 'filled'],
  set: ['Set: in rows and columns', 'Set all', 'set'],
  stripe: ['Stripe: a rank in each stripe', 'Lay stripes', 'laid in stripes'],
  trail: ['Trail: along a drawn path', 'Lay along it', 'laid along a trail'],
  ditsy: ['Ditsy: all small, all over', 'Strew ditsy', 'strewn ditsy'],
};

export function bindArranging(table, store, $) {
  $('way').append(...Object.entries(WAYS).map(([way, [word]]) => new Option(word, way)));
  const form = bindSettings($('waysettings'), $('waymore'), store);
  const way = () => $('way').value;
  const buttons = ['lay', 'nextseed', 'trials', 'way'].map($);
  const busy = (on) => {
    for (const button of buttons) button.disabled = on;
  };

  /** Lay motifs anew with these settings over the recipe's own. */
  async function lay(settings, without = []) {
    const mine = way();
    busy(true);
    $('tossed').textContent = 'Working …';
    try {
      await store.send();
      const state = store.now;
      const path = mine === 'fill' ? 'fill' : 'arrange';
      const done = await link.post(path, { way: mine, settings, without, by: TAB });
      if (state !== store.now) throw new Error('The cloth was changed meanwhile; try again');
      const seed = done.settings.seed === undefined ? '' : ` with seed ${done.settings.seed}`;
      if (done.rows.length) table.strew(done.rows, `${WAYS[mine][2]}${seed}`, { over: mine === 'fill', settings: { [mine]: done.settings } });
      $('tossed').textContent = [done.line, ...done.notes].join('. ');
    } catch (error) {
      $('tossed').textContent = '';
      store.notice(error.message, true);
    }
    busy(false);
    // What was done, not what is left to ask for.
    say({ settings, without });
  }

  const trials = bindTrials(store, $, { asked: () => form.asked(), take: (seed) => lay({ ...form.asked().settings, seed }, form.asked().without) });

  /** Say the command; a key that is emptied is taken out of the recipe by hand. */
  async function say({ settings, without } = form.asked()) {
    const again = way() === 'fill' ? {} : { again: true };
    await sayDeed($('tosssaid'), way(), { ...settings, ...again }, without.map((key) => `# and take ${key} out of [${way()}]`));
  }

  function show() {
    const [, word] = WAYS[way()];
    $('lay').textContent = word;
    $('trials').hidden = way() !== 'toss';
    form.show(way());
    $('nextseed').hidden = !form.has('seed');
    $('more').hidden = !$('waymore').children.length;
    showSeeds();
  }

  /** Tosses kept from earlier boards, as moments to go back to. */
  const kept = store.data.seeds.map(({ way: by, settings, rows }) => {
    const keyed = rows.map((row) => [store.freshKey(), filledOut(row)]);
    return { order: keyed.map(([key]) => key), rows: new Map(keyed), settings: { [by]: settings } };
  });

  /** Every toss that is kept, or that undoing can reach, to go back to. */
  function showSeeds() {
    const found = new Map();
    for (const state of kept) if (state.settings[way()]) found.set(state.settings[way()].seed, state);
    store.history.states.forEach((state, k) => {
      const seed = state.settings[way()]?.seed;
      const before = store.history.states[k - 1];
      if (seed === undefined || !before || state.settings[way()] === before.settings[way()]) return;
      found.delete(seed);
      found.set(seed, state);
    });
    $('seeds').replaceChildren(...[...found].slice(-12).map(([seed, state]) => {
      const button = document.createElement('button');
      button.type = 'button';
      button.textContent = `Seed ${seed}`;
      button.setAttribute('aria-label', `Go back to seed ${seed}`);
      button.setAttribute('aria-pressed', String(state.order === store.now.order));
      button.addEventListener('click', () => {
        table.pickNone();
        const { order, rows } = state;
        const settings = { ...store.now.settings, [way()]: state.settings[way()] };
        store.commit({ ...store.now, order, rows, settings }, `back to seed ${seed}`);
      });
      return button;
    }));
    $('seedspart').hidden = ![...found.values()].some((state) => state.order !== store.now.order);
  }

  const asked = () => {
    if (!form.valid()) return;
    const { settings, without } = form.asked();
    lay(settings, without);
  };
  $('lay').addEventListener('click', asked);
  $('nextseed').addEventListener('click', () => {
    if (!form.valid()) return;
    form.nextSeed();
    asked();
  });
  $('trials').addEventListener('click', () => form.valid() && trials());
  $('way').addEventListener('change', () => {
    show();
    say();
  });
  form.changed = () => say();
  $('arranging').addEventListener('toggle', () => $('arranging').open && say());
  return show;
}
