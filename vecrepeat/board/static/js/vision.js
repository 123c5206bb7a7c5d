// The cloth as people see it who tell fewer colours apart.
//
// Source: G. M. Machado, M. M. Oliveira and L. A. F. Fernandes, "A physiologically-based model for
// simulation of color vision deficiency", 2009, severity 1.0, in linear RGB. Grey is luminance
// (ITU-R BT.709).

const SVG = 'http://www.w3.org/2000/svg';
const KINDS = [
  ['', 'by most', null],
  ['protan', 'without red (protanopia)', [0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998]],
  ['deutan', 'without green (deuteranopia)', [0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.01182, 0.04294, 0.968881]],
  ['tritan', 'without blue (tritanopia)', [1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.3039]],
  ['grey', 'in grey alone', [0.2126, 0.7152, 0.0722, 0.2126, 0.7152, 0.0722, 0.2126, 0.7152, 0.0722]],
];

/** Have pictures seen as the person chooses. */
export function bindVision($, pictures) {
  for (const [key, , matrix] of KINDS) {
    if (!matrix) continue;
    const [filter, change] = ['filter', 'feColorMatrix'].map((tag) => document.createElementNS(SVG, tag));
    filter.id = `vision-${key}`;
    // Filters count in linear RGB unless they are told otherwise (Filter Effects 1 §10).
    const rows = [0, 3, 6].map((at) => [...matrix.slice(at, at + 3), 0, 0].join(' '));
    change.setAttribute('values', `${rows.join(' ')} 0 0 0 1 0`);
    filter.append(change);
    $('visions').append(filter);
  }
  $('vision').replaceChildren(...KINDS.map(([key, words]) => new Option(words, key)));
  $('vision').addEventListener('change', () => {
    const key = $('vision').value;
    for (const picture of pictures) picture.style.filter = key ? `url(#vision-${key})` : '';
  });
}
