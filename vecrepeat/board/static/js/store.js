// What lies on the cloth, its history, and its agreement with the server.

import { after, historyOf, stepTo } from './history.js';
import * as link from './link.js';

export const TAB = Math.random().toString(36).slice(2, 10);

/**
 * Events: `change` when what lies on the cloth has changed, `standing` when saved, kept or lost
 * has, `notice` with a sentence to tell.
 */
export class Store extends EventTarget {
  constructor(data) {
    super();
    this.data = data;
    this.motifs = new Map(data.motifs.map((motif) => [motif.name, motif]));
    this.standing = data.standing;
    this.takeUp(data);
    for (const motif of data.motifs) {
      // What a moment says of a motif: how large it is, by how large it came, and its rank.
      motif.read = { box: motif.box, extent: motif.extent, hull: motif.hull, wide: motif.wide };
      Object.defineProperty(motif, 'size', { get: () => this.sizeOf(motif) });
      Object.defineProperty(motif, 'rank', { get: () => this.rankOf(motif) });
    }
    this.count = 0;
    /** The ground of a colourway that is looked at, or of one that is tried. */
    this.dressed = undefined;
  }

  takeUp(data) {
    this.history = historyOf(data);
    this.kept = data.steps.length;
    this.waiting = [];
    this.sending = null;
    this.latest = this.kept;
  }

  get now() {
    return this.history.states[this.history.cursor];
  }

  /** What the cloth is laid on, [colour, opacity], or null: in a colourway, tried, or as it is. */
  get ground() {
    if (this.dressed !== undefined) return this.dressed;
    const { ground } = this.now;
    if (ground === 'none') return null;
    return ground ? [ground, 1] : this.data.drawnGround;
  }

  get rows() {
    const { order, rows } = this.now;
    return order.map((key) => rows.get(key));
  }

  /** A motif's printed width in mm. */
  widthOf(motif) {
    return this.now.motifs[motif.name]?.width ?? motif.drawn;
  }

  sizeOf(motif) {
    const size = this.widthOf(motif) / motif.wide;
    return Math.abs(size - 1) < 1e-9 ? 1 : size;
  }

  /** The motifs whose pictures are not those that were read, since lines are thicker or thinner. */
  get lined() {
    return this.data.motifs.flatMap((motif) => {
      const line = this.now.motifs[motif.name]?.['least-line'] ?? 0;
      const wide = this.widthOf(motif);
      return line !== motif.line || (line && wide !== motif.read.wide) ? [[motif.name, line, line && wide]] : [];
    });
  }

  /** Give motifs the shapes that the server tells, and all others those that were read. */
  reshape(shapes) {
    for (const motif of this.data.motifs) Object.assign(motif, motif.read, shapes[motif.name]);
  }

  /** A motif's rank; "" where it is left out, as a recipe that gives others theirs does. */
  rankOf(motif) {
    const said = Object.values(this.now.motifs).some(({ rank }) => rank);
    return said ? (this.now.motifs[motif.name]?.rank ?? '') : motif.guessed;
  }

  /** A key that no placement has had. */
  freshKey() {
    return `${TAB}-${this.count++}`;
  }

  /** Make a step to another moment and have it written down. */
  commit(next, what) {
    const step = stepTo(this.now, next, what);
    if (step) this.make(step);
  }

  get canUndo() {
    return this.history.cursor > 0;
  }

  get canRedo() {
    return this.history.cursor < this.history.states.length - 1;
  }

  undo() {
    if (!this.canUndo) return;
    this.notice(`Undone: ${this.history.words[this.history.cursor]}`);
    this.make({ cursor: this.history.cursor - 1 });
  }

  redo() {
    if (!this.canRedo) return;
    this.make({ cursor: this.history.cursor + 1 });
    this.notice(`Done again: ${this.history.words[this.history.cursor]}`);
  }

  make(step) {
    this.history = after(this.history, step);
    this.waiting.push({ ...step, by: TAB });
    this.dispatchEvent(new Event('change'));
    this.send();
  }

  /** Post waiting steps one after the other; resolves when all are kept. */
  send() {
    this.sending ??= this.#send().finally(() => {
      this.sending = null;
    });
    return this.sending;
  }

  async #send() {
    while (this.waiting.length) {
      try {
        const answer = await link.post('step', { after: this.kept, step: this.waiting[0] });
        this.waiting.shift();
        this.kept = answer.steps;
        this.stand(answer);
      } catch (error) {
        if (!(error instanceof link.Refused) || error.status === 403) {
          // The program is gone, or another has its place: steps wait for it.
          this.stand({ lost: true });
          await new Promise((done) => setTimeout(done, 1000));
          continue;
        }
        await this.again();
        const told = error.status === 409 ? 'Another tab was quicker; your last change was not made' : error.message;
        this.notice(told, true);
      }
    }
    if (this.latest > this.kept) await this.again();
  }

  /** Take everything from the server anew. */
  async again() {
    const data = await link.get('cloth');
    this.takeUp(data);
    this.stand(data.standing);
    this.dispatchEvent(new Event('change'));
  }

  async save(over = false) {
    await this.send();
    try {
      this.stand(await link.post('save', { over }));
      this.notice(`Saved in ${this.data.file}`);
    } catch (error) {
      this.notice(`Not saved: ${error.message}`, true);
    }
  }

  async reread(drop) {
    try {
      await link.post('reread', { drop });
    } catch (error) {
      this.notice(error.message, true);
    }
  }

  /** Hear what other tabs and the disk do, for ever. */
  listen() {
    link.listen(
      (news) => this.#heard(news),
      (error) => {
        if (error instanceof link.Refused) this.notice(error.message, true);
        this.stand({ lost: true });
      },
    );
  }

  #heard(news) {
    if (news.job || news.jobs) this.dispatchEvent(new CustomEvent('jobs', { detail: news }));
    if (!('steps' in news)) return;
    if (news.version !== this.data.version) {
      location.reload();
      return;
    }
    this.stand({ ...news, lost: false });
    this.latest = Math.max(this.latest, news.steps);
    if (news.step?.by === TAB || news.steps <= this.kept) return;
    if (this.waiting.length) return;
    if (!news.step || news.steps !== this.kept + 1) {
      this.again();
      return;
    }
    this.history = after(this.history, news.step);
    this.kept = news.steps;
    this.dispatchEvent(new Event('change'));
  }

  stand(standing) {
    this.standing = { ...this.standing, lost: false, ...standing };
    this.dispatchEvent(new Event('standing'));
  }

  notice(text, grave = false) {
    this.dispatchEvent(new CustomEvent('notice', { detail: { text, grave } }));
  }
}
