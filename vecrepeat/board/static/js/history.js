// Moments and steps: the same as vecrepeat/board/state.py, so that page and server agree.

/** The recipe's keys at the top that a step may set. */
const CLOTH = ['layout', 'tile', 'ground'];

/** What it says of each of some by name: of motifs, and how they are arranged. */
const TABLES = ['motifs', 'settings'];

/** The moment that the server describes. */
export function stateOf(data) {
  const rows = new Map(Object.entries(data.rows).map(([key, row]) => [key, filledOut(row)]));
  const { order, layout, tile = '', ground = '', colourways = [], motifs = {}, settings = {} } = data;
  return { order, rows, layout, tile, ground, colourways, motifs, settings };
}

/** A row with all that goes without saying. */
export function filledOut(row) {
  return { at: null, turn: 0, scale: 1, flip: false, pinned: false, ...row };
}

export function historyOf(data) {
  const history = { states: [stateOf(data.base)], words: [''], cursor: 0 };
  return data.steps.reduce(after, history);
}

/** The history with one more step. */
export function after(history, step) {
  if ('cursor' in step) return { ...history, cursor: step.cursor };
  const now = history.states[history.cursor];
  const order = step.order ?? now.order;
  // What is not touched stays the same object: by that one sees that the cloth has not changed.
  const rows = step.rows || step.order ? rowsAfter(now.rows, step.rows ?? {}, order) : now.rows;
  const end = history.cursor + 1;
  return {
    states: [...history.states.slice(0, end), { ...now, ...clothOf(step), ...tablesOf(now, step), colourways: step.colourways ?? now.colourways, order, rows }],
    words: [...history.words.slice(0, end), step.what ?? ''],
    cursor: end,
  };
}

function rowsAfter(before, changed, order) {
  const rows = new Map(before);
  for (const [key, row] of Object.entries(changed)) rows.set(key, filledOut(row));
  const kept = new Set(order);
  for (const key of rows.keys()) if (!kept.has(key)) rows.delete(key);
  return rows;
}

/** Whether two moments lay the same on the cloth, in whatever colourways. */
export function layAlike(one, other) {
  return ['order', 'rows', 'motifs', ...CLOTH].every((key) => one[key] === other[key]);
}

/** The step from one moment to another, or null where nothing changed. */
export function stepTo(now, next, what) {
  const step = { what };
  const rows = {};
  for (const [key, row] of next.rows) {
    if (now.rows.get(key) !== row && next.order.includes(key)) rows[key] = plain(row);
  }
  if (Object.keys(rows).length) step.rows = rows;
  const moved = now.order.length !== next.order.length || now.order.some((key, k) => key !== next.order[k]);
  if (moved) step.order = next.order;
  for (const key of [...CLOTH, 'colourways']) if (now[key] !== next[key]) step[key] = next[key];
  for (const table of TABLES) {
    const changed = Object.entries(next[table]).filter(([name, row]) => now[table][name] !== row);
    if (changed.length) step[table] = Object.fromEntries(changed);
  }
  return Object.keys(step).length > 1 ? step : null;
}

function clothOf(step) {
  return Object.fromEntries(CLOTH.filter((key) => key in step).map((key) => [key, step[key]]));
}

function tablesOf(now, step) {
  return Object.fromEntries(TABLES.map((table) => [table, step[table] ? { ...now[table], ...step[table] } : now[table]]));
}

function plain(row) {
  const { at, ...rest } = row;
  return at ? { ...rest, at } : rest;
}
