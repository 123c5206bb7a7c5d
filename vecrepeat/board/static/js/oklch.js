// Colours as lightness, strength and hue, in which equal steps look equal.
//
// Source: Björn Ottosson, "A perceptual color space for image processing", 2020 (CSS Color 4 §9.2).

export function rgbOf(hex) {
  const value = parseInt(hex.slice(1), 16);
  return [value >> 16, (value >> 8) & 255, value & 255];
}

export function hexOf(rgb) {
  return `#${rgb.map((v) => Math.round(v).toString(16).padStart(2, '0')).join('')}`;
}

const linear = (v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
const curved = (v) => (v <= 0.0031308 ? v * 12.92 : 1.055 * v ** (1 / 2.4) - 0.055);

/** [lightness 0 to 1, strength (chroma), hue in degrees] of #rrggbb. */
export function oklchOf(hex) {
  const [r, g, b] = rgbOf(hex).map((v) => linear(v / 255));
  const l = Math.cbrt(0.4122214708 * r + 0.5363325363 * g + 0.0514459929 * b);
  const m = Math.cbrt(0.2119034982 * r + 0.6806995451 * g + 0.1073969566 * b);
  const s = Math.cbrt(0.0883024619 * r + 0.2817188376 * g + 0.6299787005 * b);
  const lightness = 0.2104542553 * l + 0.793617785 * m - 0.0040720468 * s;
  const a = 1.9779984951 * l - 2.428592205 * m + 0.4505937099 * s;
  const c = 0.0259040371 * l + 0.7827717662 * m - 0.808675766 * s;
  return [lightness, Math.hypot(a, c), ((Math.atan2(c, a) * 180) / Math.PI + 360) % 360];
}

function parts([lightness, strength, hue]) {
  const angle = (hue * Math.PI) / 180;
  const [a, b] = [strength * Math.cos(angle), strength * Math.sin(angle)];
  const l = (lightness + 0.3963377774 * a + 0.2158037573 * b) ** 3;
  const m = (lightness - 0.1055613458 * a - 0.0638541728 * b) ** 3;
  const s = (lightness - 0.0894841775 * a - 1.291485548 * b) ** 3;
  return [
    4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s,
    -1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s,
    -0.0041960863 * l - 0.7034186147 * m + 1.707614701 * s,
  ];
}

/** #rrggbb; what a screen can't show loses strength until it can. */
export function hexOfOklch([lightness, strength, hue]) {
  const shown = (c) => parts([lightness, c, hue]).every((v) => v > -1e-4 && v < 1.0001);
  let [low, high] = [0, strength];
  if (!shown(high)) for (let n = 0; n < 20; n++) shown((low + high) / 2) ? (low = (low + high) / 2) : (high = (low + high) / 2);
  else low = high;
  return hexOf(parts([lightness, low, hue]).map((v) => 255 * curved(Math.min(Math.max(v, 0), 1))));
}
