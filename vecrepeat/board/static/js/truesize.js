// How large the cloth is shown: true to life on a screen that was measured once, so many tiles,
// or as from far away.

/** The width of a bank card in mm, held upright: ISO/IEC 7810, ID-1. */
const CARD = 53.98;
const KEPT = 'board-pixels-per-mm';
/** CSS counts 96 pixels to the inch, on whatever screen. */
const USUAL = 96 / 25.4;
/** How far a screen is from the eye, and the cloth that is looked at, in metres (common practice). */
const [NEAR, FAR] = [0.6, 3];

/** CSS pixels per mm of this screen, or null where nobody has measured it. */
function measured() {
  const kept = Number(localStorage.getItem(KEPT));
  return kept > 1 && kept < 40 ? kept : null;
}

export function bindTrueSize(table, $) {
  const scale = () => measured() ?? USUAL;

  /** A scale at which so many tiles fill the room there is. */
  function holding(count) {
    const { view, lie } = table;
    const { left, top, right, bottom } = view.room;
    return Math.min((view.width - left - right) / lie.cell[0], (view.height - top - bottom) / lie.cell[1]) / count;
  }

  const sizes = { true: scale, 2: () => holding(2), 6: () => holding(6), far: () => (scale() * NEAR) / FAR };
  for (const button of $('sizes').children) {
    button.addEventListener('click', () => table.lookAt(sizes[button.dataset.size]()));
  }

  function show() {
    const known = measured();
    $('measure').textContent = known ? 'Measure this screen again' : 'Measure this screen';
    $('truthfulness').textContent = known
      ? `This screen was measured: ${known.toFixed(2)} pixels to the mm. From 3 metres is as large as it looks there, with the screen 60 cm away.`
      : 'This screen is not measured yet: true size is a guess until it is.';
  }

  // ---------------------------------------------------------------- measuring

  const frame = () => Number($('cardwidth').value);
  let ruled = false;
  function draw() {
    const width = frame();
    $('bankcard').style.width = `${width}px`;
    $('bankcard').style.height = `${(width * 85.6) / CARD}px`;
  }
  $('cardwidth').addEventListener('input', () => {
    ruled = false;
    $('rulerwidth').value = '';
    draw();
  });
  $('rulerwidth').addEventListener('input', () => {
    ruled = $('rulerwidth').value !== '';
  });
  $('measure').addEventListener('click', () => {
    $('cardwidth').value = scale() * CARD;
    $('rulerwidth').value = '';
    ruled = false;
    draw();
    $('measuring-screen').showModal();
  });
  $('measured').addEventListener('click', () => {
    if (!$('rulerwidth').reportValidity()) return;
    localStorage.setItem(KEPT, String(frame() / (ruled ? Number($('rulerwidth').value) : CARD)));
    $('measuring-screen').close();
    show();
    table.lookAt(scale());
  });
  $('unmeasured').addEventListener('click', () => $('measuring-screen').close());
  show();
}
