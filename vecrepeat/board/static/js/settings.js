// The settings of an arranging command as fields, out of the recipe's own list of them.

/** What is asked for at once; the rest is behind More settings. */
const FIRST = ['density', 'seed', 'clearance', 'direction', 'columns', 'rows', 'order', 'times', 'along', 'side', 'size', 'count'];
const WORDS = { apart: 'Same motif apart', even: 'Even gaps', flip: 'Mirrored too', sway: 'Sway', alike: 'Alike in size', off: 'Off the path', follow: 'Turned with the path', along: 'Along', hero: 'Heroes' };
const UNITS = { length: 'mm', sway: '°', lean: '°' };

export function bindSettings(first, more, store) {
  let way = '';
  let keys = [];
  let shown = null;
  let inputs = new Map();
  const said = () => store.now.settings[way] ?? {};

  const form = {
    changed: () => {},

    /** Show a way's fields with what the recipe says. */
    show(wanted) {
      const other = wanted !== way;
      if (other) {
        way = wanted;
        keys = store.data.ways[way];
        inputs = new Map(keys.map((key) => [key.key, inputOf(key, store)]));
        const main = keys.filter(({ key }) => FIRST.includes(key));
        main.sort((a, b) => FIRST.indexOf(a.key) - FIRST.indexOf(b.key));
        first.replaceChildren(...main.map(({ key }) => inputs.get(key).closest('label')));
        more.replaceChildren(...keys.filter((key) => !main.includes(key)).map(({ key }) => inputs.get(key).closest('label')));
        for (const input of inputs.values()) input.addEventListener('input', () => form.changed());
      }
      // What is typed and not asked for yet stays.
      if (!other && shown === said()) return;
      shown = said();
      for (const key of keys) inputs.get(key.key).value = textOf(key, shown[key.key]);
    },

    has: (key) => inputs.has(key),
    valid: () => [...inputs.values()].every((input) => input.reportValidity()),

    /** What differs from the recipe: settings to be set, and keys to be taken out. */
    asked() {
      const found = { settings: {}, without: [] };
      for (const key of keys) {
        const text = inputs.get(key.key).value.trim();
        if (text === textOf(key, said()[key.key])) continue;
        if (text) found.settings[key.key] = valueOf(key, text);
        else found.without.push(key.key);
      }
      return found;
    },

    nextSeed() {
      const input = inputs.get('seed');
      input.value = (input.value === '' ? 1 : Number(input.value)) + 1;
      form.changed();
    },
  };
  return form;
}

/** A setting as its field has it. */
function textOf({ kind }, value) {
  if (value === undefined || value === null) return '';
  if (kind === 'flag') return value ? 'yes' : 'no';
  if (kind === 'range') return value[0] === value[1] ? String(value[0]) : value.join('–');
  if (kind === 'texts') return value.join(', ');
  return String(value);
}

function valueOf({ kind }, text) {
  if (kind === 'flag') return text === 'yes';
  if (kind === 'range') {
    const [low, high = low] = text.split(/[–:-]/).map(Number);
    return [low, high];
  }
  if (kind === 'texts') return text.split(',').map((one) => one.trim()).filter(Boolean);
  return ['whole', 'number', 'length'].includes(kind) ? Number(text) : text;
}

function inputOf({ key, kind, about, low, high, words }, store) {
  const label = document.createElement('label');
  const choices = { words, flag: ['yes', 'no'] }[kind];
  const input = document.createElement(choices ? 'select' : 'input');
  const word = WORDS[key] ?? key[0].toUpperCase() + key.slice(1).replaceAll('-', ' ');
  const unit = UNITS[kind] ?? UNITS[key];
  label.append(word, ' ');
  if (unit) {
    const span = document.createElement('span');
    span.className = 'unit';
    span.textContent = unit;
    label.append(span);
  }
  label.append(input);
  label.title = about;
  input.id = `way-${key}`;
  if (choices) {
    input.append(new Option('as usual', ''), ...choices.map((one) => new Option(one.replaceAll('-', ' '), one)));
  } else if (kind === 'range') {
    Object.assign(input, { pattern: '[0-9.]+([\\u2013:\\-][0-9.]+)?', placeholder: '0.8–1.2' });
  } else if (kind === 'text' || kind === 'texts') {
    input.placeholder = kind === 'text' ? 'a motif’s name' : 'hero, filler';
    if (kind === 'text') input.setAttribute('list', listOf(store));
  } else {
    Object.assign(input, { type: 'number', min: low ?? 0, step: kind === 'whole' ? 1 : 'any', placeholder: 'as usual' });
    if (high !== undefined) input.max = high;
  }
  if (!choices) Object.assign(input, { autocomplete: 'off', spellcheck: false });
  return input;
}

function listOf(store) {
  const id = 'motifnames';
  if (!document.getElementById(id)) {
    const list = document.createElement('datalist');
    list.id = id;
    list.append(...store.data.motifs.map(({ name }) => new Option(name)));
    document.body.append(list);
  }
  return id;
}
