/**
 * The bridge's clock, as this page knows it.
 *
 * Each exchange asks the bridge for its time; the offset is right to half of the time that the
 * exchange took (as in NTP, RFC 5905, section 8), so that of several exchanges the quickest counts.
 */

const BURST = 8;
const KEPT_SECONDS = 90;
const MOST = 40;
/** A step of the device's own clocks against each other that says: it has slept. */
const SLEPT_SECONDS = 0.3;

const own = () => performance.now() / 1000;
const wall = () => Date.now() / 1000;

export class Sync {
  constructor() {
    /** @type {{offset: number, took: number, at: number}[]} */
    this.exchanges = [];
    this.apart = wall() - own();
    this.isBusy = false;
    /** How often the device has slept: what was asked before it slept tells nothing after. */
    this.sleeps = 0;
  }

  /** The bridge's seconds now; null before anything is known. */
  now() {
    const best = this.best();
    return best === null ? null : own() + best.offset;
  }

  /** The exchange that counts. */
  best() {
    const since = own() - KEPT_SECONDS;
    const recent = this.exchanges.filter((exchange) => exchange.at >= since);
    const usable = recent.length > 0 ? recent : this.exchanges;
    return usable.length === 0 ? null : usable.reduce((a, b) => (b.took < a.took ? b : a));
  }

  /** Ask several times; what cannot be asked now is asked again by the next burst. */
  async burst(times = BURST) {
    if (this.isBusy) return;
    this.isBusy = true;
    try {
      for (let number = 0; number < times; number += 1) await this.exchange();
    } catch {
      // not connected: the link says so on the page, and another burst follows
    } finally {
      this.isBusy = false;
    }
  }

  async exchange() {
    const { sleeps } = this;
    const sent = own();
    const answer = await fetch("/clock", { cache: "no-store", signal: AbortSignal.timeout(2000) });
    const got = own();
    const { now } = await answer.json();
    const took = got - sent;
    if (sleeps !== this.sleeps) return;
    this.exchanges.push({ offset: now - (sent + got) / 2, took, at: got });
    this.exchanges = this.exchanges.slice(-MOST);
  }

  /** Tell whether the device has slept or its clocks were set; then nothing is known any more. */
  hasSlept() {
    const apart = wall() - own();
    const slept = Math.abs(apart - this.apart) > SLEPT_SECONDS;
    this.apart = apart;
    if (slept) {
      this.exchanges = [];
      this.sleeps += 1;
    }
    return slept;
  }
}
