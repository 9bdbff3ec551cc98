/**
 * The large figures: own turns left, bars left, the counted beat; the section now and next.
 *
 * @import {Song} from "./types.js"
 * @import {Place} from "./place.js"
 */

import { barAt, barsLeft, beatAt, bpmAt } from "./axis.js";
import { inBars, nextEntry } from "./outlook.js";
import { APART_SECONDS, Pace } from "./pace.js";
import { sounds, stand, turnsLeft } from "./turning.js";
import { element, rows, show, write } from "./words.js";

const MANY_BEATS = 6;
const pace = new Pace();

/**
 * @param {Song} song
 * @param {Place} place
 * @param {string[]} own the reader's layers; all of them without a part
 * @param {boolean} hasPart
 */
export function drawFigures(song, place, own, hasPart) {
  drawSection(song, place);
  drawOwn(song, place, own, hasPart);
  drawBars(place);
  drawBeats(place);
}

/** Show that nothing is known. */
export function drawNothing() {
  for (const id of ["section", "own-left", "bars-left"]) write(id, "–");
  for (const id of ["then", "own-under", "bars-under", "gauge-words", "strip-words"]) write(id, "");
  element("own").classList.remove("is-word");
  rows(element("beats"), "li", [], () => {});
}

/**
 * @param {Song} song
 * @param {Place} place
 */
function drawSection(song, place) {
  const { section } = place;
  write("section", place.isOver ? "End" : `${section.letter === null ? "" : `${section.letter}  `}${section.name}`);
  write("then", place.isOver ? "" : thenInWords(song, place));
  write("note", section.note ?? "");
  show("note", section.note !== null && !place.isOver);
}

/**
 * @param {Song} song
 * @param {Place} place
 */
function thenInWords(song, place) {
  const next = place.follows === null ? "the end" : song.sections[place.follows].name;
  return place.leaves === null ? `then ${next}, when released` : `then ${next}`;
}

/**
 * @param {Song} song
 * @param {Place} place
 * @param {string[]} own
 * @param {boolean} hasPart
 */
function drawOwn(song, place, own, hasPart) {
  const { section, into } = place;
  const playing = section.layers.filter((layer) => own.includes(layer.name) && sounds(layer, into));
  const box = element("own").classList;
  if (place.isOver || playing.length === 0) {
    box.add("is-word");
    write("own-label", hasPart ? "you" : "");
    write("own-left", ownWord(place, own));
    const entry = place.isOver ? null : nextEntry(song, place, own);
    write("own-under", entry === null ? "" : `in again ${inBars(entry.bars)}: ${entry.name}`);
    return;
  }
  box.remove("is-word");
  const layer = playing.reduce((a, b) => (stand(b, into).cycle > stand(a, into).cycle ? b : a));
  const { turn, words } = stand(layer, Math.max(0, into));
  const left = place.leaves === null ? null : turnsLeft(layer, Math.max(0, into), place.leaves);
  write("own-label", left === null ? `${layer.name}, turn` : `${layer.name}, turns left`);
  write("own-left", String(left ?? turn));
  element("own-left").classList.toggle("is-long", (left ?? turn) > 99);
  write("own-under", `every ${words}${playing.length > 1 ? `, and ${playing.length - 1} more` : ""}`);
}

/**
 * @param {Place} place
 * @param {string[]} own
 */
function ownWord(place, own) {
  if (place.isOver) return "End";
  if (place.section.free?.some((name) => own.includes(name))) return "Free";
  return place.section.layers.length === 0 && place.section.free === null ? "Pause" : "Tacet";
}

/** @param {Place} place */
function drawBars(place) {
  const { section, into, leaves } = place;
  const bar = barAt(section, into);
  const isCounted = section.free === null && !place.isOver;
  write("bars-label", leaves === null ? "bar" : "bars left");
  const left = leaves === null ? bar.number : barsLeft(section, Math.max(0, into), leaves);
  write("bars-left", isCounted ? String(left) : "–");
  element("bars-left").classList.toggle("is-long", left > 99);
  write("bars-under", isCounted ? barInWords(place, bar.number) : "");
}

/**
 * @param {Place} place
 * @param {number} number
 */
function barInWords(place, number) {
  if (number < 1) return `count-in: ${1 - number} to go`;
  const { section } = place;
  return number > section.bars ? `planned: ${section.bars}` : `bar ${number} of ${section.bars}`;
}

/** @param {Place} place */
function drawBeats(place) {
  const { section, into } = place;
  const list = element("beats");
  const isCounted = section.free === null && !place.isOver;
  const { number, bar } = beatAt(section, into);
  const isFast = (bar.length * 60) / bpmAt(section, into) < APART_SECONDS;
  list.classList.toggle("is-many", bar.beats.length > MANY_BEATS);
  list.classList.toggle("is-fast", isFast);
  const beats = isCounted ? bar.beats : [];
  if (beats.length !== list.children.length && !pace.allows("beats", performance.now() / 1000)) return;
  rows(list, "li", beats, (node, _, index) => {
    const text = String(index + 1);
    if (node.textContent !== text) node.textContent = text;
    node.classList.toggle("is-on", !isFast && place.isPlaying && index === number);
  });
}
