// The tile: its size in the person's own units, how tiles lie, the ground, the whole's size.

import { bindLayouts } from '../layouts.js';
import { UNITS, inUnit, keepUnit, saidSize, toMm } from '../lengths.js';
import { showSaid } from '../said.js';

const MOST_SWATCHES = 10;

export function bindTile(table, store, $) {
  const showLayout = bindLayouts(table, store, $);
  $('units').replaceChildren(...UNITS.map((one) => new Option(one, one, false, one === table.unit)));

  async function attempt(deed) {
    try {
      await deed();
    } catch (error) {
      store.notice(error.message, true);
    }
    show();
  }

  ['tilewidth', 'tileheight'].forEach((id, k) => {
    $(id).addEventListener('change', () => {
      if (!$(id).reportValidity()) return;
      // The other side stays as it is, to the last decimal.
      const sides = table.lie.tile.with(k, toMm(Number($(id).value), table.unit));
      attempt(() => table.resizeTile(sides));
    });
  });
  $('wholewidth').addEventListener('change', () => {
    if (!$('wholewidth').reportValidity()) return;
    const factor = toMm(Number($('wholewidth').value), table.unit) / table.lie.tile[0];
    const sides = table.lie.tile.map((side) => side * factor);
    attempt(() => table.scaleWhole(factor, saidSize(sides, table.unit)));
  });
  $('units').addEventListener('change', () => {
    table.unit = $('units').value;
    keepUnit(table.unit);
    table.drawMarks();
    show();
  });

  // ---------------------------------------------------------------- ground

  // Trying a colour changes nothing that is kept; the last one is.
  $('groundfield').addEventListener('input', () => {
    store.dressed = [$('groundfield').value, 1];
    table.cloth.refresh();
  });
  const lay = (ground) => {
    store.dressed = undefined;
    table.layGround(ground);
    table.cloth.refresh();
    show();
  };
  $('groundfield').addEventListener('change', () => lay($('groundfield').value));
  $('groundcode').addEventListener('change', () => {
    const code = $('groundcode').value.trim().toLowerCase();
    if (/^#[0-9a-f]{6}$/.test(code)) lay(code);
    else store.notice('A colour is such as #1b2a49', true);
    show();
  });
  $('groundnone').addEventListener('click', () => lay('none'));
  $('grounddrawn').addEventListener('click', () => lay(''));
  $('grounddrawn').hidden = !store.data.drawnGround;
  $('groundswatches').replaceChildren(...store.data.palette.slice(0, MOST_SWATCHES).map(([name, colour]) => {
    const button = document.createElement('button');
    button.type = 'button';
    button.className = 'swatch';
    button.dataset.colour = colour;
    button.style.setProperty('--colour', colour);
    button.setAttribute('aria-label', `Ground ${name}`);
    button.title = name;
    button.addEventListener('click', () => lay(colour));
    return button;
  }));

  function show() {
    if (!table.lie) return;
    const { unit } = table;
    const [width, height] = table.lie.tile.map((side) => inUnit(side, unit));
    const values = { tilewidth: width, tileheight: height, wholewidth: width };
    for (const [id, value] of Object.entries(values)) {
      $(id).value = value;
      $(id).closest('label').querySelector('.unit').textContent = unit;
    }
    const ground = store.ground?.[0];
    $('groundfield').value = ground ?? '#ffffff';
    $('groundcode').value = ground ?? '';
    $('groundnone').setAttribute('aria-pressed', String(!ground));
    $('grounddrawn').setAttribute('aria-pressed', String(store.now.ground === ''));
    for (const one of $('groundswatches').children) {
      one.setAttribute('aria-pressed', String(one.dataset.colour === ground));
    }
    const { now } = store;
    const lines = [
      now.tile && `tile = "${now.tile}"`,
      `layout = "${now.layout}"`,
      now.ground && `ground = "${now.ground}"`,
    ];
    showSaid($('tilesaid'), lines.filter(Boolean).join('\n'));
  }

  for (const told of ['viewed', 'pulled']) table.addEventListener(told, show);
  return {
    changed() {
      showLayout();
      show();
    },
    shown() {
      table.marks.sizing = true;
      show();
    },
    hidden() {
      table.marks.sizing = false;
    },
  };
}
