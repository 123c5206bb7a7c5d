// Looking: what ruins a repeat, drawn on the cloth.

import * as link from '../link.js';
import { bindFindings } from '../findings.js';
import { bindInUse } from '../inuse.js';
import { rounded } from '../placements.js';
import { sayDeed, showSaid } from '../said.js';
import { TAB } from '../store.js';
import { bindTrueSize } from '../truesize.js';
import { bindVision } from '../vision.js';

const LOOKS = { seeclearance: 'clearance', seevoids: 'voids', seealleys: 'alleys' };

/** The questions of a check that find the same. */
const QUESTIONS = { clearance: 'collisions', voids: 'voids', alleys: 'alleys' };

/** Asked of the server again whenever the cloth has changed. */
export function bindLook(table, store, $) {
  let latest = 0;
  bindTrueSize(table, $);
  bindVision($, [$('weave'), $('shownpicture')]);
  bindInUse(table, store, $);
  const findings = bindFindings(table, store, $);

  const asked = () => Object.keys(LOOKS).filter((id) => $(id).checked).map((id) => LOOKS[id]);

  const say = () => sayDeed($('looksaid'), 'check', { only: asked().map((one) => QUESTIONS[one]).join(','), profile: $('limits').value, colourway: table.dressing.worn });

  /** Say what of the motifs' lines the recipe says. */
  function sayLines() {
    const lined = Object.entries(store.now.motifs).filter(([, row]) => row['least-line']);
    showSaid($('linessaid'), lined.map(([name, row]) => `[[motif]]\nname = ${JSON.stringify(name)}\nleast-line = "${row['least-line']}mm"`).join('\n'));
  }

  async function look() {
    const mine = ++latest;
    const what = asked();
    say();
    if (!what.length) {
      show(null);
      return;
    }
    try {
      $('seen').textContent ||= 'Looking …';
      await store.send();
      // A newer look takes the place of this one, here as on the server.
      if (mine !== latest) return;
      const seen = await link.post('look', { what, clearance: Number($('clearance').value) || 0, by: TAB });
      // What was found on the cloth as it was a moment ago is not drawn on another.
      if (mine === latest && seen.steps === store.kept) show(seen);
    } catch (error) {
      if (mine !== latest) return;
      show(null);
      store.notice(error.message, true);
    }
  }

  function show(seen) {
    table.seen = seen;
    $('seen').textContent = seen ? told(seen) : '';
    table.drawMarks();
  }

  $('limits').addEventListener('change', say);
  for (const id of [...Object.keys(LOOKS), 'clearance']) $(id).addEventListener('change', look);
  $('joins').addEventListener('change', () => {
    table.marks.showJoins = $('joins').checked;
    table.drawMarks();
  });
  return {
    shown() {
      say();
      sayLines();
    },
    changed() {
      sayLines();
      table.seen = null;
      findings.changed();
      if (asked().length) look();
    },
  };
}

function told({ clearance, voids, alleys }) {
  const parts = [];
  if (clearance) {
    const [near, over] = clearance.counts;
    parts.push(`${near} pairs nearer than the clearance, ${over} overlap.`);
  }
  if (voids) {
    const [first] = voids.circles;
    const far = voids.circles.filter((circle) => circle.far).length;
    parts.push(first ? `Largest void ${rounded(2 * first.radius, 1)} mm wide; ${far} stand out.` : 'No voids: nothing is placed.');
  }
  if (alleys) {
    const wide = alleys.lanes.filter((lane) => lane.width_mm > alleys.limit).length;
    parts.push(alleys.lanes.length ? `${alleys.lanes.length} empty lanes, ${wide} of them alleys.` : 'No alleys.');
  }
  return parts.join(' ');
}
