// Motifs as pictures. The art's markup never becomes part of the page: it is drawn as an SVG
// picture, in which nothing runs and nothing loads (SVG 2 §2.7, secure static mode).

const SPACES = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"';

export class Pictures {
  /** @param data the cloth's data; its `pictures` are the motifs as SVG and what they refer to. */
  constructor(data) {
    this.art = data.pictures;
    this.ids = new Map(data.motifs.map((motif, k) => [motif.name, `motif-${k}`]));
    this.sprites = new Map();
  }

  /**
   * Draw copies into a canvas of w × h pixels.
   *
   * @param copies placements and where they go: [{ placement, matrix }], in stacking order.
   * @param view what to show: [x, y, width, height] in mm.
   * @param region corners to cut each copy to, before its turn, or null.
   * @param ground colour and opacity of what lies under all, or null.
   * @param spare pictures of what is not among these: a blender as drawn.
   */
  async draw(copies, view, w, h, { region = null, ground = null, spare = null } = {}) {
    const canvas = new OffscreenCanvas(Math.max(1, w), Math.max(1, h));
    if (!copies.length && !ground) return canvas;
    const motifs = new Set(copies.map((copy) => copy.motif));
    const drawn = [...motifs].map(({ name }) => [name, this.art.motifs[name] ?? spare.motifs[name]]);
    const needs = new Set(drawn.flatMap(([, art]) => art.needs));
    const parts = [...needs].map((key) => this.art.resources[key]);
    const ids = new Map(drawn.map(([name], k) => [name, this.ids.get(name) ?? `layer-${k}`]));
    for (const [name, art] of drawn) parts.push(`<g id="${ids.get(name)}">${art.markup}</g>`);
    if (region) {
      const corners = region.map((point) => point.join(' ')).join('L');
      parts.push(`<clipPath id="board-region"><path d="M${corners}Z"/></clipPath>`);
    }
    const uses = copies.map(({ motif, matrix, outer }) => {
      const use = `<use xlink:href="#${ids.get(motif.name)}" transform="matrix(${matrix.join(' ')})"/>`;
      return region && outer
        ? `<g transform="matrix(${outer.join(' ')})"><g clip-path="url(#board-region)">${use}</g></g>`
        : use;
    });
    const [x, y, width, height] = view;
    const under = ground
      ? `<rect x="${x}" y="${y}" width="${width}" height="${height}" fill="${ground[0]}" fill-opacity="${ground[1]}"/>`
      : '';
    const text =
      `<svg ${SPACES} width="${w}" height="${h}" viewBox="${view.join(' ')}" ` +
      `preserveAspectRatio="none"><defs>${parts.join('')}</defs>${under}${uses.join('')}</svg>`;
    const picture = new Image(w, h);
    const address = URL.createObjectURL(new Blob([text], { type: 'image/svg+xml' }));
    try {
      picture.src = address;
      await picture.decode();
      canvas.getContext('2d').drawImage(picture, 0, 0, w, h);
    } finally {
      URL.revokeObjectURL(address);
    }
    return canvas;
  }

  /** A motif on its own, at so many pixels per mm: { canvas, box } with box in its own mm. */
  async sprite(motif, density) {
    const [x0, y0, x1, y1] = motif.extent;
    const room = 1.5 / density;
    const sides = [x1 - x0 + 2 * room, y1 - y0 + 2 * room];
    const fit = Math.min(1, 2000 / (Math.max(...sides) * density));
    const [w, h] = sides.map((side) => Math.max(1, Math.ceil(side * density * fit)));
    const known = this.sprites.get(motif);
    if (known && known.canvas.width === w && known.canvas.height === h) return known;
    const view = [x0 - room, y0 - room, ...sides];
    const canvas = await this.draw([{ motif, matrix: [1, 0, 0, 1, 0, 0] }], view, w, h);
    const made = { canvas, box: view };
    this.sprites.set(motif, made);
    return made;
  }
}
