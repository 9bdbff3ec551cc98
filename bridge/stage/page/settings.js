/**
 * What the reader chose on this screen, kept in its address: the part, the colours, the light at the edge.
 *
 * @import {Song, State} from "./types.js"
 */

import { said, say } from "./address.js";
import { choice, element, rows, show } from "./words.js";

/** The player whose page this is; empty: everybody's. */
export const part = () => said().get("part") ?? "";

/** When the edge is lit: `one`, `beat`, or empty for never. */
export const light = () => said().get("light") ?? "";

let drawn = "";

/**
 * Write what belongs to the song as a whole, when it is another one.
 *
 * @param {Song} song
 * @param {State} state
 */
export function drawSong(song, state) {
  const key = `${state.song} ${state.number}`;
  if (drawn === key) return;
  drawn = key;
  const number = state.songs.length > 1 ? ` (${state.number + 1} of ${state.songs.length})` : "";
  element("song").textContent = `${song.title}${number}`;
  document.title = song.title;
  element("strip-title").textContent = `${song.title}${number}: energy and place`;
  const names = ["", ...song.players.map((player) => player.name)];
  rows(choice("part"), "option", names, (node, name) => {
    const option = /** @type {HTMLOptionElement} */ (node);
    option.value = name;
    option.textContent = name === "" ? "everybody" : name;
  });
  choose("part", part());
}

/** Bind the page's choices to its address. */
export function wire() {
  const bright = matchMedia("(prefers-color-scheme: light)");
  const dress = () => {
    const look = said().get("look") ?? "";
    document.documentElement.classList.toggle("is-light", look === "light" || (look === "" && bright.matches));
    choose("look", look);
    choose("light", light());
    choose("part", part());
  };
  for (const name of ["part", "look", "light"]) {
    choice(name).addEventListener("change", () => {
      say(name, choice(name).value);
      dress();
    });
  }
  addEventListener("hashchange", dress);
  bright.addEventListener("change", dress);
  dress();
}

/** Say how another phone gets to this page; where none can, how to let it. */
export async function tellHowToJoin() {
  const answer = await fetch("/join.json");
  const { address, is_open } = await answer.json();
  element("join-words").textContent = is_open
    ? `Another phone in this network joins at ${address} That address allows no control.`
    : `This page is served to this machine alone. "--stage 0.0.0.0:PORT" lets the room's network see it.`;
  if (is_open) element("join").setAttribute("src", "/join.svg");
  show("join", is_open);
}

/**
 * @param {string} name
 * @param {string} value one that is not offered chooses the first
 */
function choose(name, value) {
  choice(name).value = value;
  if (choice(name).selectedIndex < 0) choice(name).selectedIndex = 0;
}
