// Swatches: main colours with their ramps under them, and a colourway's chips.

const CHIPS = 6;

/** Fill a place with a swatch for each main colour; the chosen one is pressed. */
export function swatchesOf(place, entries, chosen, dressing, choose) {
  const focused = document.activeElement?.dataset?.key;
  place.replaceChildren(...entries.map((entry) => {
    const button = document.createElement('button');
    button.type = 'button';
    button.className = 'maincolour';
    button.dataset.key = entry.key;
    button.setAttribute('aria-pressed', String(entry.key === chosen));
    button.setAttribute('aria-label', labelOf(entry));
    button.title = `${entry.name} ${entry.now}`;
    button.append(strip('chip', [entry.now]), ...entry.ramps.map((ramp) => strip('ramp', ramp.map((colour) => dressing.targets[colour] ?? colour))));
    button.addEventListener('click', () => choose(entry.key));
    return button;
  }));
  if (focused) place.querySelector(`[data-key="${CSS.escape(focused)}"]`)?.focus();
}

function labelOf({ name, now, ramps, share }) {
  const parts = [name, now];
  if (share !== undefined) parts.push(`${(share * 100).toFixed(share < 0.1 ? 1 : 0)} % of the cloth`);
  if (ramps.length) parts.push(ramps.length === 1 ? 'a ramp' : `${ramps.length} ramps`);
  return parts.join(', ');
}

function strip(kind, colours) {
  const one = document.createElement('span');
  one.className = kind;
  one.style.background = colours.length > 1 ? `linear-gradient(90deg, ${colours.join(', ')})` : colours[0];
  return one;
}

/** The colours that tell a colourway best, null as drawn. */
export function chipsOf(row, main) {
  const chips = document.createElement('span');
  chips.className = 'chips';
  chips.setAttribute('aria-hidden', 'true');
  const to = (entry) => {
    if (row?.ground && row.ground !== 'none' && entry.ground) return row.ground;
    return row?.colours?.[entry.key] ?? row?.colours?.[entry.name] ?? row?.colours?.[entry.colour] ?? entry.colour;
  };
  chips.append(...(main?.colours ?? []).slice(0, CHIPS).map((entry) => strip('chip', [to(entry)])));
  return chips;
}
