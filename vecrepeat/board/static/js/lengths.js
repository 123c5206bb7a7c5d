// Lengths in the person's own units.

const MM = { mm: 1, cm: 10, in: 25.4 };
export const UNITS = Object.keys(MM);

const KEPT = 'unit';

/** The unit that was chosen last in this browser, or undefined. */
export function keptUnit() {
  return UNITS.find((unit) => unit === localStorage.getItem(KEPT));
}

export function keepUnit(unit) {
  localStorage.setItem(KEPT, unit);
}

/** The unit that a size is said in; mm where none is. */
export function unitOf(size) {
  return UNITS.find((unit) => size.endsWith(unit)) ?? 'mm';
}

export function toMm(value, unit) {
  return value * MM[unit];
}

/** mm in a unit, to as many decimals as a ruler shows. */
export function inUnit(mm, unit) {
  return Number((mm / MM[unit]).toFixed(unit === 'mm' ? 1 : 2));
}

/** A size as a recipe says it: in the unit where that says it exactly, else in mm. */
export function saidSize(sides, unit) {
  const texts = sides.map((mm) => {
    const value = inUnit(mm, unit);
    return Math.abs(toMm(value, unit) - mm) < 1e-6 ? `${value}${unit}` : `${Number(mm.toFixed(4))}mm`;
  });
  const both = texts.every((text) => text.endsWith(unit));
  return both ? `${texts[0].slice(0, -unit.length)}x${texts[1]}` : texts.join('x');
}

export function fileSize(bytes) {
  return bytes >= 1e9 ? `${(bytes / 1e9).toFixed(1)} GB` : bytes >= 1e6 ? `${(bytes / 1e6).toFixed(1)} MB` : `${Math.max(1, Math.round(bytes / 1e3))} kB`;
}

export function duration(seconds) {
  if (seconds < 1.5) return 'about a second';
  if (seconds < 90) return `about ${Math.round(seconds)} seconds`;
  return `about ${Math.round(seconds / 60)} minutes`;
}
