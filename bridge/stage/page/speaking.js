/**
 * What a screen reader is told by itself: changes that matter, never the beat or the bar.
 *
 * @import {State} from "./types.js"
 * @import {Place} from "./place.js"
 */

import { element } from "./words.js";

const APART_MS = 2500;

export class Speaking {
  constructor() {
    /** @type {Map<string, string>} */
    this.last = new Map();
    this.spokenAt = -Infinity;
    /** @type {string[]} */
    this.waiting = [];
  }

  /**
   * @param {State} state
   * @param {Place | null} place
   * @param {string} link what is said of the line to the bridge
   * @param {string} part
   */
  hear(state, place, link, part) {
    this.note("link", link);
    if (place !== null) {
      this.note("section", place.isOver ? "End" : place.section.name);
      this.note("held", place.held ? "held" : "");
    }
    const { cue } = state;
    if (cue !== null && (part === "" || cue.player === "" || cue.player === part)) {
      this.note("cue", cue.text, `${cue.text}@${cue.at}`);
    }
    this.say();
  }

  /**
   * @param {string} about
   * @param {string} text
   * @param {string} [key] what tells it from the one before
   */
  note(about, text, key = text) {
    if (this.last.get(about) === key) return;
    const isFirst = !this.last.has(about);
    this.last.set(about, key);
    if (text !== "" && !(isFirst && about === "link")) this.waiting.push(text);
  }

  say() {
    const now = performance.now();
    if (this.waiting.length === 0 || now - this.spokenAt < APART_MS) return;
    element("spoken").textContent = this.waiting.splice(0).join(". ");
    this.spokenAt = now;
  }
}
