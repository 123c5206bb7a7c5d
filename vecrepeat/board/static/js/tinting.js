// A picture whose pixels move with a colour, each by its share of that colour.

import { rgbOf } from './oklch.js';

export class Tinted {
  /**
   * @param picture what is moved, drawn at width × height.
   * @param shares how much of the colour is in each pixel, 0 to 255.
   */
  constructor(picture, width, height, shares) {
    this.canvas = new OffscreenCanvas(width, height);
    this.context = this.canvas.getContext('2d', { willReadFrequently: true });
    this.context.drawImage(picture, 0, 0, width, height);
    this.data = this.context.getImageData(0, 0, width, height);
    this.base = this.data.data.slice();
    const [places, amounts] = [[], []];
    for (let n = 0; n < width * height; n++) {
      if (!shares[n]) continue;
      places.push(4 * n);
      amounts.push(Math.min(shares[n], 255));
    }
    this.places = Int32Array.from(places);
    this.amounts = Uint8Array.from(amounts);
  }

  /** Return the picture with a colour moved from one #rrggbb to another. */
  moved(from, to) {
    const { base, places, amounts } = this;
    const [red, green, blue] = rgbOf(to).map((v, k) => (v - rgbOf(from)[k]) / 255);
    const pixels = this.data.data;
    for (let n = 0; n < places.length; n++) {
      const at = places[n];
      const share = amounts[n];
      pixels[at] = base[at] + red * share;
      pixels[at + 1] = base[at + 1] + green * share;
      pixels[at + 2] = base[at + 2] + blue * share;
    }
    this.context.putImageData(this.data, 0, 0);
    return this.canvas;
  }
}
