/**
 * Who plays and who is tacet; the reader's own part first.
 *
 * @import {Song} from "./types.js"
 * @import {Place} from "./place.js"
 */

import { barsLeft } from "./axis.js";
import { inBars, nextEntry } from "./outlook.js";
import { sounds, stand, turnsLeft } from "./turning.js";
import { element, made, rows } from "./words.js";

/**
 * @param {Song} song
 * @param {Place} place
 * @param {string} part the reader's; empty: everybody's
 */
export function drawPeople(song, place, part) {
  const players = [...song.players].sort((a, b) => Number(b.name === part) - Number(a.name === part));
  rows(element("players"), "li", players, (node, player) => {
    const what = isFree(place, player.layers) ? "plays freely" : playing(place, player.layers);
    const text = what === "" ? tacet(song, place, player.layers) : what;
    fill(node, player.name, text);
    node.className = `${what === "" ? "is-tacet" : ""} ${player.name === part ? "is-own" : ""}`.trim();
  });
}

/**
 * @param {HTMLElement} node
 * @param {string} who
 * @param {string} what
 */
function fill(node, who, what) {
  if (node.children.length === 0) node.append(made("span", "who", ""), made("span", "what", ""));
  const [first, second] = node.children;
  if (first.textContent !== who) first.textContent = who;
  if (second.textContent !== what) second.textContent = what;
}

/**
 * @param {Place} place
 * @param {string[]} layers
 */
const isFree = (place, layers) => place.section.free?.some((name) => layers.includes(name)) ?? false;

/**
 * @param {Place} place
 * @param {string[]} layers
 */
function playing({ section, into, leaves, isOver }, layers) {
  if (isOver) return "";
  const now = Math.max(0, into);
  const sounding = section.layers.filter((layer) => layers.includes(layer.name) && sounds(layer, now));
  return sounding
    .map((layer) => {
      const until = layer.until !== null && (leaves === null || layer.until < leaves) ? layer.until : null;
      const out = until === null ? "" : `, out ${inBars(barsLeft(section, now, until))}`;
      return `${layer.name}, every ${stand(layer, now).words}${left(layer, now, leaves)}${out}`;
    })
    .join("; ");
}

/**
 * Tell the turns left where they can be counted by eye: not of a layer that turns many times in a bar.
 *
 * @param {import("./types.js").Layer} layer
 * @param {number} now
 * @param {number | null} leaves
 */
function left(layer, now, leaves) {
  if (leaves === null || stand(layer, now).cycle < 2) return "";
  const turns = turnsLeft(layer, now, leaves);
  return turns === 1 ? ", last turn" : `, ${turns} turns left`;
}

/**
 * @param {Song} song
 * @param {Place} place
 * @param {string[]} layers
 */
function tacet(song, place, layers) {
  const entry = place.isOver ? null : nextEntry(song, place, layers);
  return entry === null ? "tacet" : `tacet, enters ${inBars(entry.bars)}: ${entry.name}`;
}
