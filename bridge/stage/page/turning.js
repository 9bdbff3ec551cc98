/**
 * Where a layer stands in its cycle within a section, and where all of them meet.
 *
 * Turns are counted within the section; one that began before it is its first.
 *
 * @import {Layer, Piece, Section} from "./types.js"
 */

import { NEAR } from "./axis.js";

/** @param {Layer} layer */
export const startOf = (layer) => layer.pieces[0].start;

/**
 * @param {Layer} layer
 * @param {number} into
 */
export function sounds(layer, into) {
  return into >= startOf(layer) - NEAR && (layer.until === null || into < layer.until - NEAR);
}

/**
 * @param {Piece} piece
 * @param {number} into
 */
function homesInPiece(piece, into) {
  const last = piece.end === null ? into : Math.min(into, piece.end);
  if (last < piece.first - NEAR) return 0;
  const count = Math.floor((last - piece.first + NEAR) / piece.cycle) + 1;
  const isAtEnd = piece.end !== null && piece.first + (count - 1) * piece.cycle > piece.end - NEAR;
  return count - (isAtEnd ? 1 : 0);
}

/**
 * Count the layer's homes in the section at `into` and before.
 *
 * @param {Layer} layer
 * @param {number} into
 */
export function homesUpTo(layer, into) {
  return layer.pieces.reduce((count, piece) => count + homesInPiece(piece, into), 0);
}

/**
 * @param {Layer} layer
 * @param {number} into
 */
function pieceAt(layer, into) {
  const found = layer.pieces.find((piece) => piece.end === null || into < piece.end - NEAR);
  return found ?? layer.pieces[layer.pieces.length - 1];
}

/**
 * Return the layer's next home after `into`, sounding or not.
 *
 * @param {Layer} layer
 * @param {number} into
 */
export function homeAfter(layer, into) {
  for (const piece of layer.pieces) {
    const steps = Math.floor((into - piece.first + NEAR) / piece.cycle) + 1;
    const at = into < piece.first - NEAR ? piece.first : piece.first + steps * piece.cycle;
    if (piece.end === null || at < piece.end - NEAR) return at;
  }
  return Infinity;
}

/**
 * @param {Layer} layer
 * @param {number} into
 */
export function isHome(layer, into) {
  const piece = pieceAt(layer, into);
  const turns = (into - piece.first) / piece.cycle;
  return turns > -NEAR && Math.abs(turns - Math.round(turns)) * piece.cycle < 1e-4;
}

/**
 * Return where the layer stands: the turn it plays from 1 (0 before its first home), how much of
 * it is over (0 to 1), its next home, and the cycle in words.
 *
 * @param {Layer} layer
 * @param {number} into
 */
export function stand(layer, into) {
  const piece = pieceAt(layer, into);
  const next = homeAfter(layer, into);
  const turn = homesUpTo(layer, into) + (layer.begun === null ? 0 : 1);
  const length = next < piece.first + NEAR && layer.begun === null ? Infinity : piece.cycle;
  const phase = turn === 0 ? 0 : Math.min(1, Math.max(0, 1 - (next - into) / length));
  return { turn, phase, next, cycle: piece.cycle, words: piece.words };
}

/**
 * Count the turns until `leaves` that are not over yet, the one that is played included.
 *
 * @param {Layer} layer
 * @param {number} into
 * @param {number} leaves
 */
export function turnsLeft(layer, into, leaves) {
  const end = layer.until === null ? leaves : Math.min(leaves, layer.until);
  if (end <= into + NEAR) return 0;
  const here = homesUpTo(layer, into);
  const between = homesUpTo(layer, end) - here - (isHome(layer, end) ? 1 : 0);
  return between + (here > 0 || layer.begun !== null ? 1 : 0);
}

/**
 * Return the next meeting of all after `into`, the landing included; null where there is none.
 *
 * @param {Section} section
 * @param {number} into
 * @param {boolean} held
 */
export function meetingAfter(section, into, held) {
  const rows = section.meetings;
  if (rows !== null) {
    const at = after(rows.first, rows.every, into);
    if (at < (rows.until ?? section.length) - NEAR) return at;
    const single = rows.then.find((place) => place > into + NEAR);
    if (single !== undefined && single < section.length - NEAR) return single;
  }
  if (section.lands && into < section.length - NEAR) return section.length;
  if (!held || section.beyond === null) return null;
  return after(section.beyond.first, section.beyond.every, Math.max(into, section.length));
}

/**
 * @param {number} first
 * @param {number} every
 * @param {number} into
 */
function after(first, every, into) {
  return into < first - NEAR ? first : first + (Math.floor((into - first + NEAR) / every) + 1) * every;
}
