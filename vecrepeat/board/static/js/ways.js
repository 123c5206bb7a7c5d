// Colourways as the recipe has them: { name, ground?, colours: { colour or name: colour } }.

/** A colourway with one main colour taken elsewhere; its own shades follow it again. */
export function withColour(row, entry, colour) {
  const own = new Set([entry.key, entry.name, ...entry.members]);
  const rest = Object.entries(row.colours ?? {}).filter(([key]) => !own.has(key));
  const colours = Object.fromEntries(colour === entry.colour ? rest : [...rest, [entry.key, colour]]);
  return { ...row, colours };
}

/** A name that no other has: files are called after it. */
export function freshName(rows, base) {
  const plain = (name) => name.toLowerCase().replace(/[^a-z0-9]+/g, '-').replace(/^-|-$/g, '');
  const taken = new Set(rows.map((row) => plain(row.name)));
  const stem = base.replace(/ \d+$/, '');
  if (!taken.has(plain(base))) return base;
  for (let n = 2; ; n++) if (!taken.has(plain(`${stem} ${n}`))) return `${stem} ${n}`;
}

/** The lines of a recipe that say a colourway. */
export function saidWay(row) {
  const pairs = Object.entries(row.colours ?? {}).map(([key, value]) => `${JSON.stringify(key)} = "${value}"`);
  const ground = row.ground ? `ground = "${row.ground}"\n` : '';
  return `[[colourway]]\nname = ${JSON.stringify(row.name)}\n${ground}colours = { ${pairs.join(', ')} }`;
}
