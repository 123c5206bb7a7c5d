// The layout's part of the card: how tiles lie, how far each next one drops, how they are turned.

const SVG = 'http://www.w3.org/2000/svg';
const GROUPS = ['p1', 'p2', 'pm', 'pg', 'cm', 'p2mm', 'p2mg', 'p2gg', 'c2mm', 'p4', 'p4mm', 'p4gm', 'p3', 'p3m1', 'p31m', 'p6', 'p6mm'];
const FORMS = [
  ['', 'not at all'],
  ['turnover-across', 'over, every other column'],
  ['turnover-down', 'over, every other row'],
  ['turnover-both', 'over, columns and rows'],
  ['half-turn-across', 'by half, every other column'],
  ['half-turn-down', 'by half, every other row'],
  ['half-turn-both', 'by half, like a chessboard'],
];
const KINDS = [['block', 'Block'], ['drop', 'Drop'], ['brick', 'Brick'], ['group', 'Plane group']];
/** The slider's sixtieths, which hold halves, thirds, quarters, fifths and sixths. */
const PARTS = 60;

/** A layout's name in parts: { kind, k, n, form }. */
export function partsOf(name) {
  if (GROUPS.includes(name)) return { kind: 'group', k: 1, n: 2, form: name };
  const [base, form = ''] = name.split('+');
  if (base === 'block') return { kind: 'block', k: 1, n: 2, form };
  if (base === 'half-drop') return { kind: 'drop', k: 1, n: 2, form };
  if (base === 'brick') return { kind: 'brick', k: 1, n: 2, form };
  const [kind, share] = base.split(':');
  const [k, n] = share.split('/').map(Number);
  return { kind, k, n, form };
}

export function nameOf({ kind, k, n, form }) {
  if (kind === 'group') return form;
  const base = kind === 'block' || k % n === 0 ? 'block' : k * 2 === n ? (kind === 'drop' ? 'half-drop' : 'brick') : `${kind}:${k}/${n}`;
  return form ? `${base}+${form}` : base;
}

function divisor(a, b) {
  return b ? divisor(b, a % b) : a;
}

export function bindLayouts(table, store, $) {
  let parts = partsOf(store.now.layout);
  let trying = Promise.resolve();
  let next = null;

  const buttons = KINDS.map(([kind, word]) => {
    const button = document.createElement('button');
    button.type = 'button';
    button.dataset.kind = kind;
    button.setAttribute('role', 'radio');
    button.append(diagram(kind), word);
    button.addEventListener('click', () => {
      const form = kind === 'group' ? (GROUPS.includes(parts.form) ? parts.form : 'p2mm') : GROUPS.includes(parts.form) ? '' : parts.form;
      parts = { ...parts, kind, form };
      lay();
    });
    button.addEventListener('keydown', (event) => {
      const by = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
      if (!by) return;
      event.preventDefault();
      const to = buttons[(buttons.indexOf(button) + by + buttons.length) % buttons.length];
      to.focus();
      to.click();
    });
    return button;
  });
  $('kinds').append(...buttons);

  /** Show a layout without keeping it; the last one asked for wins. */
  function look() {
    next = nameOf(parts);
    trying = trying.then(async () => {
      if (!next) return;
      const name = next;
      next = null;
      await table.showLaid(await table.lieOf(name));
    }).catch((error) => store.notice(error.message, true));
    show();
  }

  async function lay() {
    next = null;
    await trying;
    try {
      const lie = await table.lieOf(nameOf(parts));
      table.relay(lie.name);
    } catch (error) {
      store.notice(error.message, true);
      parts = partsOf(store.now.layout);
      table.show();
    }
    show();
  }

  $('shift').addEventListener('input', () => {
    const sixtieths = Number($('shift').value);
    const by = divisor(sixtieths, PARTS) || 1;
    parts = { ...parts, k: sixtieths / by, n: PARTS / by };
    look();
  });
  $('shift').addEventListener('change', lay);
  $('fraction').addEventListener('change', () => {
    const read = /^\s*(\d{1,3})\s*\/\s*(\d{1,3})\s*$/.exec($('fraction').value);
    if (!read || Number(read[2]) === 0) {
      store.notice('A fraction is such as 1/3', true);
      show();
      return;
    }
    parts = { ...parts, k: Number(read[1]), n: Number(read[2]) };
    lay();
  });
  $('form').addEventListener('change', () => {
    parts = { ...parts, form: $('form').value };
    lay();
  });

  function show() {
    for (const button of buttons) {
      const chosen = button.dataset.kind === parts.kind;
      button.setAttribute('aria-checked', String(chosen));
      button.tabIndex = chosen ? 0 : -1;
    }
    const shifts = parts.kind === 'drop' || parts.kind === 'brick';
    $('dropping').hidden = !shifts;
    $('shiftlabel').textContent = parts.kind === 'brick' ? 'Each next row moves across by' : 'Each next column drops by';
    $('fraction').value = `${parts.k}/${parts.n}`;
    const sixtieths = Math.round((parts.k / parts.n) * PARTS);
    if (Number($('shift').value) !== sixtieths) $('shift').value = sixtieths;
    $('shift').setAttribute('aria-valuetext', `${parts.k}/${parts.n} of a tile`);
    const options = parts.kind === 'group' ? GROUPS.map((g) => [g, g]) : FORMS;
    $('form').replaceChildren(...options.map(([value, word]) => new Option(word, value, false, value === parts.form)));
  }

  return () => {
    parts = partsOf(store.now.layout);
    show();
  };
}

/** A little drawing of how tiles lie. */
function diagram(kind) {
  const svg = document.createElementNS(SVG, 'svg');
  svg.setAttribute('viewBox', '0 0 36 26');
  svg.setAttribute('aria-hidden', 'true');
  const path = document.createElementNS(SVG, 'path');
  path.setAttribute('d', {
    block: 'M0 4.5h36M0 13h36M0 21.5h36M6 0v26M18 0v26M30 0v26',
    drop: 'M6 0v26M18 0v26M30 0v26M0 4.5h6M6 8.75h12M18 4.5h12M30 8.75h6M0 13h6M6 17.25h12M18 13h12M30 17.25h6M0 21.5h6M18 21.5h12',
    brick: 'M0 4.5h36M0 13h36M0 21.5h36M6 0v4.5M18 0v4.5M30 0v4.5M12 4.5v8.5M24 4.5v8.5M6 13v8.5M18 13v8.5M30 13v8.5M12 21.5V26M24 21.5V26',
    group: 'M18 0v26M0 13h36M5 3l9 7V3zM31 3l-9 7V3zM5 23l9-7v7zM31 23l-9-7v7z',
  }[kind]);
  svg.append(path);
  return svg;
}
