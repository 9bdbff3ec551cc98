/**
 * One section's time: its bars, beats and seconds, past its planned end as well.
 *
 * The same rules as the bridge's own: past its end a held section goes on in its meters at the
 * tempo that it ended with; before its start its first tempo holds. Knows nothing of layers.
 *
 * @import {Section} from "./types.js"
 */

/** Nearer than this many quarters is the same place: doubles round. */
export const NEAR = 1e-6;

/** @param {number[]} numbers */
const sum = (numbers) => numbers.reduce((total, one) => total + one, 0);

/**
 * Return the seconds from the section's start to `into` at the plan's tempo.
 *
 * @param {Section} section
 * @param {number} into
 */
export function secondsAt(section, into) {
  const [from, to] = section.tempo;
  if (into < 0) return (into * 60) / from;
  if (into > section.length) return section.lasts_seconds + ((into - section.length) * 60) / to;
  const slope = (to - from) / section.length;
  return slope === 0 ? (into * 60) / from : (60 * Math.log1p((slope * into) / from)) / slope;
}

/**
 * Return how far into the section `seconds` after its start is: the inverse of `secondsAt`.
 *
 * @param {Section} section
 * @param {number} seconds
 */
export function intoAt(section, seconds) {
  const [from, to] = section.tempo;
  if (seconds < 0) return (seconds * from) / 60;
  if (seconds > section.lasts_seconds) {
    return section.length + ((seconds - section.lasts_seconds) * to) / 60;
  }
  const slope = (to - from) / section.length;
  return slope === 0 ? (seconds * from) / 60 : (from * Math.expm1((seconds * slope) / 60)) / slope;
}

/**
 * Return the plan's quarter notes a minute at `into`.
 *
 * @param {Section} section
 * @param {number} into
 */
export function bpmAt(section, into) {
  const share = Math.min(1, Math.max(0, into / section.length));
  return section.tempo[0] + (section.tempo[1] - section.tempo[0]) * share;
}

/**
 * Return the bar that `into` lies in: its number from 1 (0 and less before the section), its
 * start, its length and its counted beats.
 *
 * @param {Section} section
 * @param {number} into
 */
export function barAt(section, into) {
  const lengths = section.meters.map((meter) => sum(meter.beats));
  const round = sum(lengths);
  const passes = Math.floor((into + NEAR) / round);
  let start = passes * round;
  let index = 0;
  while (index < lengths.length - 1 && into + NEAR >= start + lengths[index]) {
    start += lengths[index];
    index += 1;
  }
  const number = passes * lengths.length + index + 1;
  return { number, start, length: lengths[index], beats: section.meters[index].beats };
}

/**
 * Return the counted beat at `into`: its number from 0, how much of it is over (0 to 1), its bar.
 *
 * @param {Section} section
 * @param {number} into
 */
export function beatAt(section, into) {
  const bar = barAt(section, into);
  let left = Math.max(0, into - bar.start);
  let number = 0;
  while (number < bar.beats.length - 1 && left + NEAR >= bar.beats[number]) {
    left -= bar.beats[number];
    number += 1;
  }
  return { number, share: Math.max(0, left / bar.beats[number]), bar };
}

/**
 * Return the bars from the section's start to `into`, shares of a bar included.
 *
 * @param {Section} section
 * @param {number} into
 */
export function barsTo(section, into) {
  const bar = barAt(section, into);
  return bar.number - 1 + (into - bar.start) / bar.length;
}

/**
 * Count the bars up to `target` that are not over at `into`, the one that is played included.
 *
 * @param {Section} section
 * @param {number} into
 * @param {number} target
 */
export function barsLeft(section, into, target) {
  return Math.max(0, Math.ceil(barsTo(section, target) - NEAR) - barAt(section, into).number + 1);
}
