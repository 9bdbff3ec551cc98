/**
 * The way to the landing as a tide gauge: the water falls until everybody stands on the ground.
 *
 * The water's height is how many bars there are to go, on a scale that halves the distance in
 * equal steps: 64, 32, 16 ... are always at the same heights, so that the height alone tells the
 * number, from far, and the last bars have the most room. In the water each layer has its post;
 * a block on it is a barline at which it is home, and the surface is where all of them are.
 *
 * @import {Place} from "./place.js"
 * @import {Way} from "./outlook.js"
 */

import { barAt, barsTo, bpmAt } from "./axis.js";
import { Drawing } from "./drawing.js";
import { distance } from "./outlook.js";
import { APART_SECONDS } from "./pace.js";
import { meetingAfter, sounds, stand } from "./turning.js";

const FARTHEST = 96;
const MARKS = [1, 2, 4, 8, 16, 32, 64];
const INKS = 7;
/** The width of a letter of a post's name, as a share of its height, on the average. */
const LETTER = 0.62;
const MOST_POSTS = 8;

/** @param {number} index */
export const inkOf = (index) => `var(--ink-${((index % INKS) + INKS) % INKS})`;

export class Gauge {
  /** @param {SVGSVGElement} svg */
  constructor(svg) {
    this.drawing = new Drawing(svg, {
      water: "rect",
      rules: "line",
      posts: "line",
      blocks: "rect",
      borders: "line",
      surface: "rect",
      rounds: "rect",
      words: "text",
    });
  }

  /**
   * Draw the way at a place; nothing without one.
   *
   * @param {{place: Place, way: Way, homes: Map<string, number[]>, inks: Map<string, number>, own: string[]} | null} sight
   * @param {string} count the figure at the surface
   */
  draw(sight, count) {
    const { drawing } = this;
    if (sight !== null && drawing.width > 0) {
      const frame = this.frame(sight);
      const away = Math.max(0, distance(sight.way, sight.place).away);
      this.drawWater(frame, away, sight.way.isOpen);
      this.drawMeeting(frame, sight);
      sight.way.steps.slice(1).forEach((step) => this.drawBorder(frame, step.from - frame.at, step.section.name));
      [...sight.homes].slice(0, MOST_POSTS).forEach(([name, marks], column) => {
        this.drawPost(frame, sight, name, column);
        this.drawBlocks(frame, sight, marks, name, column);
      });
      this.drawCount(frame, away, count, sight.way.isOpen);
    }
    drawing.end();
  }

  /** @param {{place: Place, way: Way, homes: Map<string, number[]>}} sight */
  frame({ place, way, homes }) {
    const { width, height } = this.drawing;
    const columns = Math.min(MOST_POSTS, Math.max(1, homes.size));
    const unit = Math.max(12, Math.min(40, width / 36));
    const left = unit * 2.6;
    const right = width * 0.7;
    const top = unit;
    const bottom = height - unit * 2.7;
    const at = way.length - distance(way, place).away;
    const scale = (bottom - top) / Math.log2(1 + FARTHEST);
    /** @param {number} bars */
    const y = (bars) => Math.max(top, bottom - scale * Math.log2(1 + Math.max(0, bars)));
    const surface = y(distance(way, place).away);
    return { unit, surface, left, right, top, bottom, at, y, wide: (right - left) / columns, width, height };
  }

  /**
   * @param {ReturnType<Gauge["frame"]>} frame
   * @param {number} away
   * @param {boolean} isOpen
   */
  drawWater(frame, away, isOpen) {
    const { unit, left, right, bottom, y } = frame;
    const level = y(away);
    const size = unit * 1.2;
    const box = { x: left, width: right - left };
    this.drawing.put("water", { ...box, class: "water", y: level, height: Math.max(0, bottom - level) });
    this.drawing.put("surface", { ...box, class: isOpen ? "surface is-open" : "surface", y: level - 4, height: 8 });
    this.drawing.put("rules", { class: "fence", x1: left, x2: right, y1: bottom, y2: bottom });
    for (const mark of MARKS) {
      this.drawing.put("rules", { class: "rule", x1: left, x2: right, y1: y(mark), y2: y(mark) });
      const place = { "text-anchor": "end", "font-size": size, x: left - unit * 0.5, y: y(mark) + size * 0.35 };
      this.drawing.put("words", { class: "tick", ...place }, String(mark));
    }
  }

  /**
   * @param {ReturnType<Gauge["frame"]>} frame
   * @param {number} away
   * @param {string} name
   */
  drawBorder(frame, away, name) {
    const { left, right, y } = frame;
    if (away <= 0) return;
    this.drawing.put("borders", { class: "border", x1: left, x2: right, y1: y(away), y2: y(away) });
    this.drawLineName(frame, y(away), name);
  }

  /**
   * @param {ReturnType<Gauge["frame"]>} frame
   * @param {number} level
   * @param {string} name
   */
  drawLineName({ unit, right, surface }, level, name) {
    if (level < surface + unit * 2) return; // the surface would run through it
    const place = { "text-anchor": "end", "font-size": unit, x: right - unit * 0.4, y: level - unit * 0.35 };
    this.drawing.put("words", { class: "border-name", ...place }, name);
  }

  /**
   * Draw a line where all meet before the landing.
   *
   * @param {ReturnType<Gauge["frame"]>} frame
   * @param {{place: Place, way: Way}} sight
   */
  drawMeeting(frame, { place, way }) {
    const { left, right, at, y } = frame;
    const meeting = meetingAfter(place.section, place.into, place.held);
    const every = Math.min(place.section.meetings?.every ?? Infinity, place.section.beyond?.every ?? Infinity);
    const isQuick = (every * 60) / bpmAt(place.section, place.into) < APART_SECONDS;
    if (meeting === null || isQuick) return;
    const mark = barsTo(place.section, meeting);
    if (mark > way.length - 1e-6) return;
    const level = y(mark - at);
    this.drawing.put("borders", { class: "meeting", x1: left, x2: right, y1: level, y2: level });
    this.drawLineName(frame, level, "all meet");
  }

  /**
   * @param {ReturnType<Gauge["frame"]>} frame
   * @param {{place: Place, inks: Map<string, number>, own: string[]}} sight
   * @param {string} name
   * @param {number} column
   */
  drawPost(frame, { place, inks, own }, name, column) {
    const { unit, left, wide, top, bottom } = frame;
    const x = left + wide * (column + 0.5);
    const ink = inkOf(inks.get(name) ?? 0);
    this.drawing.put("posts", { class: "stem", stroke: ink, x1: x, x2: x, y1: top, y2: bottom });
    const room = wide * 0.94;
    const size = Math.min(unit, Math.max(unit * 0.78, room / (name.length * LETTER)));
    const most = Math.max(3, Math.floor(room / (size * LETTER)));
    const shown = name.length > most ? `${name.slice(0, most - 1)}…` : name;
    const group = own.includes(name) ? "name is-own" : "name";
    this.drawing.put("words", { class: group, "font-size": size, x, y: bottom + unit * 2.3 }, shown);
    this.drawRound(frame, place, name, column, ink);
  }

  /**
   * Draw how much of its turn is over, below its post; an even frame where that goes too fast to be seen.
   *
   * @param {ReturnType<Gauge["frame"]>} frame
   * @param {Place} place
   * @param {string} name
   * @param {number} column
   * @param {string} ink
   */
  drawRound(frame, place, name, column, ink) {
    const { unit, left, wide, bottom } = frame;
    const layer = place.section.layers.find((one) => one.name === name);
    const box = { x: left + wide * (column + 0.15), y: bottom + unit * 0.45, height: unit * 0.75 };
    this.drawing.put("rounds", { ...box, class: "round", fill: "none", width: wide * 0.7 });
    if (layer === undefined || !sounds(layer, place.into)) return;
    const { cycle, phase } = stand(layer, place.into);
    const seconds = (cycle * 60) / bpmAt(place.section, place.into);
    if (seconds < APART_SECONDS) return;
    this.drawing.put("rounds", { ...box, class: "", fill: ink, width: wide * 0.7 * phase });
  }

  /**
   * @param {ReturnType<Gauge["frame"]>} frame
   * @param {{place: Place, way: Way, inks: Map<string, number>}} sight
   * @param {number[]} marks
   * @param {string} name
   * @param {number} column
   */
  drawBlocks(frame, { place, way, inks }, marks, name, column) {
    const { unit, left, wide, at, y } = frame;
    const ink = inkOf(inks.get(name) ?? 0);
    const x = left + wide * (column + 0.15);
    for (const mark of thinned(marks, place)) {
      const away = mark - at;
      if (away <= 0 || away > FARTHEST) continue;
      const isLanding = Math.abs(mark - way.length) < 1e-6;
      const room = (y(away) - y(away + 1)) * 0.45;
      const height = isLanding ? unit : Math.min(wide * 0.3, unit * 1.5, Math.max(1.5, room));
      this.drawing.put("blocks", { x, width: wide * 0.7, height, y: y(away) - height / 2, fill: ink, rx: height / 4 });
    }
  }

  /**
   * @param {ReturnType<Gauge["frame"]>} frame
   * @param {number} away
   * @param {string} count
   * @param {boolean} isOpen
   */
  drawCount(frame, away, count, isOpen) {
    const { unit, width, right, top, bottom, y } = frame;
    const size = Math.min((bottom - top) * 0.4, (width - right - unit) / (0.64 * Math.max(2, count.length)));
    const x = right + unit * 0.7;
    const base = Math.min(bottom - unit, Math.max(top + size * 0.78, y(away) + size * 0.36));
    this.drawing.put("words", { class: "count", "text-anchor": "start", "font-size": size, x, y: base }, count);
    const under = isOpen ? "if released" : "bars to go";
    const small = Math.min(unit * 1.2, (width - right) / 6.6);
    const place = { "text-anchor": "start", "font-size": small, x, y: base + small * 1.3 };
    this.drawing.put("words", { class: "count-under", ...place }, under);
  }
}

/**
 * Leave out blocks that would follow one another too quickly: what moves past must not flicker.
 *
 * @param {number[]} marks
 * @param {Place} place
 */
function thinned(marks, place) {
  if (marks.length < 2) return marks;
  const bar = barAt(place.section, Math.max(0, place.into));
  const seconds = (bar.length * 60) / bpmAt(place.section, place.into);
  const gap = Math.min(...marks.slice(1).map((mark, index) => mark - marks[index]));
  const stride = Math.max(1, Math.ceil(APART_SECONDS / (gap * seconds)));
  return stride === 1 ? marks : marks.filter((_, index) => (marks.length - 1 - index) % stride === 0);
}
