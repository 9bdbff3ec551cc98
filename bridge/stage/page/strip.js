/**
 * The whole song from left to right in time: how loud it is to be, its sections, where it is.
 *
 * @import {Section, Song} from "./types.js"
 * @import {Place} from "./place.js"
 */

import { secondsAt } from "./axis.js";
import { Drawing } from "./drawing.js";

export class Strip {
  /** @param {SVGSVGElement} svg */
  constructor(svg) {
    this.drawing = new Drawing(svg, { energy: "path", gone: "rect", fences: "line", words: "text", needle: "line" });
  }

  /**
   * @param {Song | null} song
   * @param {Place | null} place
   */
  draw(song, place) {
    const { drawing } = this;
    if (song !== null && drawing.width > 0) {
      const bottom = drawing.height - 20;
      /** @param {number} seconds */
      const x = (seconds) => (seconds / song.seconds) * drawing.width;
      for (const section of song.sections) this.drawSection(section, x, bottom);
      if (place !== null) this.drawPlace(place, x, bottom);
    }
    drawing.end();
  }

  /**
   * @param {Section} section
   * @param {(seconds: number) => number} x
   * @param {number} bottom
   */
  drawSection(section, x, bottom) {
    const from = x(section.starts_seconds);
    const to = x(section.starts_seconds + section.lasts_seconds);
    this.drawing.put("energy", { class: "energy", d: outline(section.energy, from, to, bottom) });
    this.drawing.put("fences", { class: "fence", x1: from, x2: from, y1: 0, y2: bottom });
    const room = Math.floor((to - from - 4) / 8.4);
    const name = section.letter ?? section.name;
    const shown = name.length <= room ? name : name.slice(0, Math.max(0, room));
    this.drawing.put("words", { class: "strip-name", x: from + 2, y: bottom + 15 }, room >= 2 ? shown : "");
  }

  /**
   * @param {Place} place
   * @param {(seconds: number) => number} x
   * @param {number} bottom
   */
  drawPlace(place, x, bottom) {
    const { section } = place;
    const within = Math.min(section.lasts_seconds, Math.max(0, secondsAt(section, place.into)));
    const at = x(section.starts_seconds + within);
    this.drawing.put("gone", { class: "gone", x: 0, y: 0, width: at, height: bottom });
    this.drawing.put("needle", { class: "needle", x1: at, x2: at, y1: 0, y2: bottom });
  }
}

/**
 * @param {number[]} energy
 * @param {number} from
 * @param {number} to
 * @param {number} bottom
 */
function outline(energy, from, to, bottom) {
  if (energy.length === 0) return `M ${from} ${bottom} L ${to} ${bottom}`;
  const points = energy.length === 1 ? [energy[0], energy[0]] : energy;
  const step = (to - from) / (points.length - 1);
  const over = points.map((level, index) => {
    const y = bottom - 2 - (level / 100) * (bottom - 6);
    return `${(from + step * index).toFixed(1)} ${y.toFixed(1)}`;
  });
  return `M ${from.toFixed(1)} ${bottom} L ${over.join(" L ")} L ${to.toFixed(1)} ${bottom} Z`;
}
