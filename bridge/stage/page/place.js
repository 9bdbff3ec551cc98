/**
 * Where the show is at a time, foreseen from what the bridge said last.
 *
 * @import {Rung, Section, Song, State} from "./types.js"
 */

import { intoAt, secondsAt } from "./axis.js";

/**
 * @typedef {{
 *   index: number, section: Section, into: number, leaves: number | null, follows: number | null,
 *   held: boolean, ladder: Rung[], isPlaying: boolean, isOver: boolean
 * }} Place
 */

const MOST_SECTIONS = 16;

/**
 * Return the place at `now`, in seconds of the bridge's clock; null where none is known.
 *
 * A section that comes to its end goes over into the next one without a word from the bridge.
 *
 * @param {Song} song
 * @param {State} state
 * @param {number} now
 * @returns {Place | null}
 */
export function placeAt(song, state, now) {
  if (state.section === null || state.line === null) return null;
  const { line } = state;
  /** @type {Place} */
  let place = {
    index: state.section,
    section: song.sections[state.section],
    into: line.quarters,
    leaves: state.leaves,
    follows: state.follows,
    held: state.held,
    ladder: state.ladder,
    isPlaying: state.playing,
    isOver: false,
  };
  if (!state.playing) return place;
  let seconds = secondsAt(place.section, line.quarters) + (now - line.at) * line.rate;
  place.into = intoAt(place.section, seconds);
  for (let hop = 0; hop < MOST_SECTIONS; hop += 1) {
    if (place.leaves === null || place.into < place.leaves) return place;
    if (place.follows === null) return { ...place, into: place.leaves, isOver: true };
    seconds -= secondsAt(place.section, place.leaves);
    place = next(song, place.follows, seconds);
  }
  return place;
}

/**
 * @param {Song} song
 * @param {number} index
 * @param {number} seconds
 * @returns {Place}
 */
function next(song, index, seconds) {
  const section = song.sections[index];
  const isOpen = section.vamp || section.free !== null;
  return {
    index,
    section,
    into: intoAt(section, seconds),
    leaves: isOpen ? null : section.length,
    follows: index + 1 < song.sections.length ? index + 1 : null,
    held: isOpen,
    ladder: [],
    isPlaying: true,
    isOver: false,
  };
}
