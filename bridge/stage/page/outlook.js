/**
 * What lies ahead of a place: the landing and the way there, who plays, how loud it is to be.
 *
 * @import {Section, Song} from "./types.js"
 * @import {Place} from "./place.js"
 */

import { NEAR, barAt, barsLeft, barsTo, secondsAt } from "./axis.js";
import { isHome, meetingAfter, sounds, startOf } from "./turning.js";

/**
 * @typedef {{section: Section, index: number, until: number, from: number}} Step
 *   until in quarters of its section; from: how many bars of the way lie before it
 * @typedef {{
 *   steps: Step[], length: number, isOpen: boolean, home: string[], isAll: boolean, then: string
 * }} Way length in bars from the start of the section that is played
 */

/**
 * Return the way to the landing: through this section and, where it runs on, those after it.
 *
 * While it is open, to the farthest rung of the ladder.
 *
 * @param {Song} song
 * @param {Place} place
 * @returns {Way}
 */
export function wayAhead(song, place) {
  const { section, index, leaves } = place;
  if (leaves === null) return openWay(place);
  const steps = [{ section, index, until: leaves, from: 0 }];
  let length = barsTo(section, leaves);
  let last = steps[0];
  let following = place.follows;
  const isPlanned = Math.abs(leaves - section.length) < NEAR;
  while (isPlanned && last.section.runs_on && following !== null && following > last.index) {
    const next = song.sections[following];
    last = { section: next, index: following, until: next.length, from: length };
    steps.push(last);
    length += next.bars;
    following = following + 1 < song.sections.length ? following + 1 : null;
  }
  const home = isPlanned ? plannedHome(last.section) : homeLike(last.section, leaves);
  const wanted = last.section.resolve.length > 0 ? last.section.resolve : last.section.gather;
  const isAll = home.length > 0 && wanted.every((name) => home.includes(name));
  const then = following === null ? "End" : song.sections[following].name;
  return { steps, length, isOpen: false, home, isAll, then };
}

/**
 * @param {Place} place
 * @returns {Way}
 */
function openWay(place) {
  const { section, index, ladder } = place;
  const rung = ladder[ladder.length - 1];
  const until = rung === undefined ? place.into + 8 * barAt(section, place.into).length : rung.into;
  const steps = [{ section, index, until, from: 0 }];
  return {
    steps,
    length: barsTo(section, until),
    isOpen: true,
    home: rung === undefined ? [] : rung.home,
    isAll: rung !== undefined && rung.others.length === 0,
    then: "",
  };
}

/**
 * Return how long all of the way lasts at the plan's tempo.
 *
 * @param {Way} way
 */
export function wayInSeconds(way) {
  return way.steps.reduce((total, step) => total + secondsAt(step.section, step.until), 0);
}

/** @param {Section} section */
const plannedHome = (section) => (section.resolved ? section.resolve : []);

/**
 * Name the layers that stand at `into` as they would at the section's planned end.
 *
 * @param {Section} section
 * @param {number} into
 */
function homeLike(section, into) {
  const goingOn = section.layers.filter((layer) => layer.until === null);
  return goingOn.filter((layer) => isWhole(into - section.length, layer.pieces.at(-1)?.cycle ?? 1)).map((l) => l.name);
}

/**
 * @param {number} length
 * @param {number} turn
 */
const isWhole = (length, turn) => Math.abs(length / turn - Math.round(length / turn)) * turn < 1e-4;

/**
 * Return each layer on the way with the barlines at which it is home, in bars of the way.
 *
 * @param {Way} way
 * @returns {Map<string, number[]>}
 */
export function homesOnTheWay(way) {
  /** @type {Map<string, number[]>} */
  const found = new Map();
  for (const step of way.steps) {
    for (const layer of step.section.layers) {
      const marks = found.get(layer.name) ?? [];
      found.set(layer.name, marks);
      for (let into = 0; into < step.until - NEAR; into += barAt(step.section, into).length) {
        const isThere = into >= startOf(layer) - NEAR && sounds(layer, into);
        if (isThere && isHome(layer, into)) marks.push(step.from + barsTo(step.section, into));
      }
    }
  }
  for (const name of way.home) found.get(name)?.push(way.length);
  return found;
}

/**
 * Return the bars to the end of the way: how many are not over, and how far it is, shares included.
 *
 * @param {Way} way
 * @param {Place} place
 */
export function distance(way, place) {
  const first = way.steps[0];
  const rest = way.length - barsTo(first.section, first.until);
  return {
    bars: barsLeft(place.section, Math.max(0, place.into), first.until) + Math.round(rest),
    away: way.length - barsTo(place.section, place.into),
  };
}

/**
 * Say in words when all are home, and what comes then.
 *
 * @param {Way} way
 * @param {Place} place
 */
export function landingInWords(way, place) {
  if (place.section.free !== null) return "Without bars, until it is released";
  const { bars } = distance(way, place);
  const when = inBars(bars);
  if (way.isOpen) return way.home.length > 0 ? `Released now, ${who(way)} home ${when}` : "Open: it goes on until it is released";
  const meeting = meetingAfter(place.section, place.into, place.held);
  const sooner = meeting === null ? null : barsLeft(place.section, Math.max(0, place.into), meeting);
  const landing = way.home.length > 0 ? `${capital(who(way))} home ${when}` : capital(when);
  const full = `${landing}: ${way.then}`;
  return sooner !== null && sooner < bars ? `${full}. First, all meet ${inBars(sooner)}` : full;
}

/** @param {Way} way */
const who = (way) => (way.isAll && way.home.length > 1 ? "all" : way.home.join(" and "));

/** @param {string} text */
const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);

/** @param {number} bars not over, the one that is played included */
export function inBars(bars) {
  return bars <= 1 ? "at the next bar" : `in ${bars} bars`;
}

/**
 * Return how many bars it is until one of `layers` sounds (again), and in which section; null: never.
 *
 * @param {Song} song
 * @param {Place} place
 * @param {string[]} layers
 */
export function nextEntry(song, place, layers) {
  const { section, into } = place;
  const later = section.layers.filter((layer) => layers.includes(layer.name) && startOf(layer) > into + NEAR);
  if (later.length > 0) {
    const at = Math.min(...later.map(startOf));
    return { bars: barsLeft(section, Math.max(0, into), at), name: section.name };
  }
  if (place.leaves === null || place.follows === null) return null;
  let bars = barsLeft(section, Math.max(0, into), place.leaves);
  for (const next of song.sections.slice(place.follows)) {
    const found = next.layers.filter((layer) => layers.includes(layer.name)).map(startOf);
    if (found.length > 0) return { bars: bars + Math.floor(barsTo(next, Math.min(...found))), name: next.name };
    if (next.free?.some((name) => layers.includes(name))) return { bars, name: next.name };
    bars += next.bars;
  }
  return null;
}

/**
 * Return the energy at `into`, 0 to 100; null where the plan says nothing.
 *
 * @param {Section} section
 * @param {number} into
 */
export function energyAt(section, into) {
  const points = section.energy;
  if (points.length === 0) return null;
  const at = Math.min(1, Math.max(0, into / section.length)) * (points.length - 1);
  const below = Math.min(points.length - 1, Math.floor(at));
  const above = Math.min(points.length - 1, below + 1);
  return points[below] + (points[above] - points[below]) * (at - below);
}
