/**
 * A light at the page's edge on the first beat, or on each one: off unless it is asked for, and
 * never more than three times a second. Where beats come more often, only the first of a bar
 * lights it; where bars do, nothing.
 *
 * @import {Place} from "./place.js"
 */

import { beatAt, bpmAt } from "./axis.js";
import { APART_SECONDS, Governor } from "./pace.js";
import { element } from "./words.js";

const FADES_SECONDS = 0.16;

export class Edge {
  constructor() {
    this.governor = new Governor();
    this.lit = -Infinity;
    this.last = "";
    this.opacity = "";
  }

  /**
   * @param {Place | null} place null: dark
   * @param {string} on `one`, `beat`, or empty
   * @param {number} now
   */
  draw(place, on, now) {
    if (place !== null && place.isPlaying && on !== "") this.light(place, on, now);
    const opacity = Math.max(0, 1 - (now - this.lit) / FADES_SECONDS).toFixed(2);
    if (opacity !== this.opacity) element("edge").style.opacity = this.opacity = opacity;
  }

  /**
   * @param {Place} place
   * @param {string} on
   * @param {number} now
   */
  light(place, on, now) {
    const { number, bar } = beatAt(place.section, place.into);
    const quarter = 60 / bpmAt(place.section, place.into);
    const isEach = on === "beat" && Math.min(...bar.beats) * quarter >= APART_SECONDS;
    if (bar.length * quarter < APART_SECONDS) return;
    const beat = `${place.index} ${bar.number} ${isEach ? number : 0}`;
    const isNew = beat !== this.last;
    this.last = beat;
    if (isNew && (isEach || number === 0) && this.governor.allows(now)) this.lit = now;
  }
}
