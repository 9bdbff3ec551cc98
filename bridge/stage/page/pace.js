/**
 * How often anything on the page may change its light: the rule that nobody can switch off.
 *
 * WCAG 2.2, success criterion 2.3.1: no more than three flashes in any second. Frames come when
 * they come, so that what is to stay below three a second is kept 0.35 s apart, and three
 * flashes span more than a second in any case.
 */

export const APART_SECONDS = 0.35;
const WINDOW_SECONDS = 1.02;

/** Lets a flash begin, or not. */
export class Governor {
  constructor() {
    /** @type {number[]} */
    this.begun = [];
  }

  /** @param {number} now in seconds of a clock that never goes back */
  allows(now) {
    const third = this.begun[this.begun.length - 3];
    const last = this.begun[this.begun.length - 1];
    if (third !== undefined && now - third < WINDOW_SECONDS) return false;
    if (last !== undefined && now - last < APART_SECONDS - 0.02) return false;
    this.begun = [...this.begun.slice(-2), now];
    return true;
  }
}

/** Lets each thing change no sooner than 0.35 s after its last change. */
export class Pace {
  constructor() {
    /** @type {Map<string, number>} */
    this.changed = new Map();
  }

  /**
   * @param {string} what
   * @param {number} now
   */
  allows(what, now) {
    const last = this.changed.get(what);
    if (last !== undefined && now - last < APART_SECONDS && now >= last) return false;
    this.changed.set(what, now);
    return true;
  }
}
