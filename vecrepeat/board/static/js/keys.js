// Keys, while the cloth has the focus. One list serves the handler and the help.

const WAYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/** How far one press goes: a millimetre, or ten, or a tenth. */
function reach(event) {
  return event.shiftKey ? 10 : event.altKey ? 0.1 : 1;
}

function keysOf(table, store, flick, hands) {
  return [
    ['N, P', 'the next motif, the one before', { n: () => table.pickNext(1), p: () => table.pickNext(-1) }],
    ['Arrows', 'move by 1 mm; with Shift 10 mm, with Alt 0.1 mm. With nothing picked, slide the cloth', {}],
    [', and .', 'turn by 15°; with Alt by 1°', {
      ',': (event) => table.turn(event.altKey ? -1 : -15),
      '.': (event) => table.turn(event.altKey ? 1 : 15),
    }],
    ['G, S', 'grow, shrink by 5 %', { g: () => table.scale(1.05), s: () => table.scale(1 / 1.05) }],
    ['F', 'flip left to right', { f: () => table.flip() }],
    ['C', 'copy', { c: () => table.copy() }],
    ['O, U', 'lay over, tuck under', { o: () => table.restack(1), u: () => table.restack(-1) }],
    ['Delete', 'take off the cloth', { delete: () => table.remove(), backspace: () => table.remove() }],
    ['H', 'pin down, so that hands pass over it', { h: () => table.pinDown() }],
    ['A', 'pick all', { a: () => table.pickAll() }],
    ['Escape', 'let go, pick nothing', { escape: () => table.pickNone() }],
    ['+, −, 0', 'closer, farther, the whole tile', {
      '+': () => table.zoom(1.25),
      '=': () => table.zoom(1.25),
      '-': () => table.zoom(0.8),
      0: () => table.refit(),
    }],
    ['T', 'take the tile’s basting: arrows then pull it, Enter keeps it, Escape gives it up', { t: () => hands.takeBasting() }],
    ['M', 'snapping on or off', { m: () => flick('snap') }],
    ['J', 'joins shown or not', { j: () => flick('joins') }],
  ];
}

export const ALWAYS = [
  ['Ctrl+Z', 'undo'],
  ['Ctrl+Shift+Z', 'redo'],
  ['Ctrl+S', 'save'],
];

export function bindKeys({ table, store, hands, cloth, flick, help }) {
  const list = keysOf(table, store, flick, hands);
  const deeds = Object.assign({}, ...list.map(([, , keys]) => keys));

  cloth.addEventListener('keydown', (event) => {
    if (event.ctrlKey || event.metaKey) return;
    const way = WAYS[event.key];
    const key = event.key.toLowerCase();
    if (key === 'escape' && hands.deed) hands.cancel();
    else if (hands.deed?.nudge && way) hands.deed.nudge(...way, event);
    else if (hands.deed?.nudge && key === 'enter') hands.lay();
    else if (way) table.nudge(...way.map((v) => v * reach(event)));
    else if (key === '?') help();
    else if (deeds[key] && !table.carrying) deeds[key](event);
    else return;
    event.preventDefault();
  });

  document.addEventListener('keydown', (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
    const key = event.key.toLowerCase();
    // Fields undo their own typing.
    if (key === 's') store.save();
    else if (event.target.matches?.('input:not([type=range]):not([type=checkbox])')) return;
    else if (key === 'z') event.shiftKey ? store.redo() : store.undo();
    else if (key === 'y') store.redo();
    else return;
    event.preventDefault();
  });
  return [...list.map(([keys, what]) => [keys, what]), ...ALWAYS];
}
