// Arranging: what is picked, by number and by deed, and the stack.

import { bindArranging } from '../arranging.js';
import { middleOf, rounded } from '../placements.js';

const FIELDS = { px: 'at', py: 'at', pturn: 'turn', pscale: 'scale' };

export function bindArrange(table, store, $) {
  const showArranging = bindArranging(table, store, $);
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
  /** Fields in which something is typed and not yet taken: the cloth's news must not go over it. */
  const typed = new Set();
  for (const id of Object.keys(FIELDS)) {
    $(id).addEventListener('input', () => typed.add(id));
    $(id).addEventListener('blur', () => typed.delete(id));
    $(id).addEventListener('change', () => {
      typed.delete(id);
      if (table.picked.size !== 1 || !$(id).reportValidity()) return;
      const values = { at: [Number($('px').value), Number($('py').value)] };
      values.turn = rounded(((Number($('pturn').value) % 360) + 360) % 360, 4);
      values.scale = rounded(Number($('pscale').value) / 100, 4);
      const [key] = table.picked.keys();
      const row = store.now.rows.get(key);
      const now = shown(row, store);
      // A field that shows fewer decimals than there are changes nothing by being looked at.
      if (values.at.every((v, k) => v === now.at[k])) values.at = row.at;
      else values.at = values.at.map((v, k) => (v === now.at[k] ? row.at?.[k] ?? v : v));
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
    const pinned = keys.length > 0 && keys.every((key) => table.isPinned(key));
    $('deeds').querySelector('[data-deed=pin]').setAttribute('aria-pressed', String(pinned));
    if (one) {
      const { at, turn, percent } = shown(one, store);
      const values = { px: at[0], py: at[1], pturn: turn, pscale: percent };
      for (const [id, value] of Object.entries(values)) if (!typed.has(id) && (document.activeElement !== $(id) || $(id).validity.valid)) $(id).value = value;
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
      item.textContent = rows.get(key).motif + (table.isPinned(key) ? ', pinned down' : '');
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
  table.addEventListener('picked', showPicked);
  return {
    changed() {
      showPicked();
      showArranging();
    },
  };
}

/** A row as the fields show it. */
function shown(row, store) {
  const at = row.at ?? middleOf(store.motifs.get(row.motif));
  return { at: at.map((v) => rounded(v, 2)), turn: rounded(row.turn, 1), percent: rounded(row.scale * 100, 1) };
}
