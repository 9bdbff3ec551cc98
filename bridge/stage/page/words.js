/**
 * The page's elements by name, and text that is written only where it differs.
 */

import { Pace } from "./pace.js";

const pace = new Pace();

/**
 * @template {Element} [T=HTMLElement]
 * @param {string} id
 * @returns {T}
 */
export function element(id) {
  const found = document.getElementById(id);
  if (found === null) throw new Error(`the page has no element ${id}`);
  return /** @type {T} */ (/** @type {unknown} */ (found));
}

/**
 * @param {string} id
 * @returns {HTMLSelectElement}
 */
export const choice = (id) => element(id);

/**
 * Write `text` into an element, no sooner than 0.35 s after its last change.
 *
 * @param {string} id
 * @param {string} text
 */
export function write(id, text) {
  const node = element(id);
  if (node.textContent !== text && pace.allows(id, performance.now() / 1000)) node.textContent = text;
}

/**
 * @param {string} id
 * @param {boolean} isShown
 */
export function show(id, isShown) {
  const node = element(id);
  if (node.hidden === isShown) node.hidden = !isShown;
}

/**
 * Make `list` hold as many `kind` children as there are rows, and let `fill` write each.
 *
 * @template R
 * @param {Element} list
 * @param {string} kind
 * @param {R[]} rows
 * @param {(node: HTMLElement, row: R, index: number) => void} fill
 */
export function rows(list, kind, rows, fill) {
  while (list.children.length > rows.length) list.lastElementChild?.remove();
  while (list.children.length < rows.length) list.append(document.createElement(kind));
  rows.forEach((row, index) => fill(/** @type {HTMLElement} */ (list.children[index]), row, index));
}

/**
 * @param {string} kind
 * @param {string} className
 * @param {string} text
 */
export function made(kind, className, text) {
  const node = document.createElement(kind);
  node.className = className;
  node.textContent = text;
  return node;
}
