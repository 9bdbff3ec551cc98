/**
 * A held section: where it can be left, and who is home there.
 *
 * @import {Place} from "./place.js"
 * @import {Rung} from "./types.js"
 */

import { barsLeft } from "./axis.js";
import { inBars } from "./outlook.js";
import { element, made, rows, show, write } from "./words.js";

/**
 * @param {Place} place
 * @param {((rung: Rung, name: string | null) => void) | null} release what a button does; null: no control
 */
export function drawHolding(place, release) {
  const isReleased = place.leaves !== null && place.leaves > place.section.length + 1e-6;
  show("held", place.held || isReleased);
  if (!place.held && !isReleased) return;
  const bars = place.leaves === null ? 0 : barsLeft(place.section, Math.max(0, place.into), place.leaves);
  write("held-title", place.leaves === null ? "Held" : "Released");
  write("held-words", place.leaves === null ? "Released now, it would end:" : `It ends ${inBars(bars)}.`);
  const ladder = place.leaves === null ? place.ladder : [];
  rows(element("ladder"), "li", ladder, (node, rung, index) => {
    const when = capital(inBars(barsLeft(place.section, Math.max(0, place.into), rung.into)));
    fill(node, when, whoIsHome(rung));
    const name = layerFor(ladder, index);
    drawButton(node, release !== null && name !== undefined ? () => release(rung, name ?? null) : null, whoIsHome(rung));
  });
}

/** @param {Rung} rung */
function whoIsHome(rung) {
  if (rung.others.length === 0) return "all home";
  return rung.home.length === 0 ? "nobody home" : `${rung.home.join(" and ")} home`;
}

/**
 * Return the layer by which the bridge is asked for a rung, null for the one where all are home;
 * undefined where no one word asks for it.
 *
 * @param {Rung[]} ladder
 * @param {number} index
 * @returns {string | null | undefined}
 */
function layerFor(ladder, index) {
  const rung = ladder[index];
  if (rung.others.length === 0) return null;
  return rung.home.find((name) => ladder.slice(0, index).every((sooner) => !sooner.home.includes(name)));
}

/**
 * @param {HTMLElement} node
 * @param {string} when
 * @param {string} who
 */
function fill(node, when, who) {
  if (node.children.length === 0) node.append(made("b", "", ""), made("span", "", ""));
  const [first, second] = node.children;
  if (first.textContent !== when) first.textContent = when;
  if (second.textContent !== who) second.textContent = who;
}

/**
 * @param {HTMLElement} node
 * @param {(() => void) | null} press
 * @param {string} who
 */
function drawButton(node, press, who) {
  const found = node.querySelector("button");
  if (press === null) {
    found?.remove();
    return;
  }
  const button = found ?? /** @type {HTMLButtonElement} */ (made("button", "", "Release there"));
  if (found === null) node.append(button);
  button.type = "button";
  button.setAttribute("aria-label", `Release there: ${who}`);
  button.onclick = press;
}

/** @param {string} text */
const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
