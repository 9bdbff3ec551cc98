/**
 * What the page may ask of the bridge, where its address has the token.
 *
 * @import {Song, State} from "./types.js"
 */

import { said } from "./address.js";
import { choice, element, rows, show, write } from "./words.js";

export class Control {
  constructor() {
    this.token = said().get("token") ?? "";
    this.song = "";
    if (this.token === "") return;
    show("control", true);
    show("accept", true);
    for (const button of document.querySelectorAll("[data-do]")) {
      button.addEventListener("click", () => this.ask(button.getAttribute("data-do") ?? ""));
    }
    element("locate").addEventListener("submit", (event) => {
      event.preventDefault();
      this.ask("locate", choice("place").value);
    });
  }

  get isAllowed() {
    return this.token !== "";
  }

  /**
   * @param {Song} song
   * @param {State} state
   */
  draw(song, state) {
    if (!this.isAllowed || this.song === state.song) return;
    this.song = state.song;
    rows(element("place"), "option", song.sections, (node, section) => {
      const option = /** @type {HTMLOptionElement} */ (node);
      option.value = section.name;
      option.textContent = section.name;
    });
  }

  /**
   * Ask for something; what the bridge answers stands below the buttons.
   *
   * @param {string} what
   * @param {string | null} [name]
   */
  async ask(what, name = null) {
    try {
      const answer = await fetch("/control", {
        method: "POST",
        headers: { "content-type": "application/json", authorization: `Bearer ${this.token}` },
        body: JSON.stringify(name === null ? { do: what } : { do: what, name }),
        signal: AbortSignal.timeout(3000),
      });
      const told = await answer.json();
      write("answer", answer.ok ? "" : String(told.error));
    } catch {
      write("answer", "The bridge did not answer: it may not have heard that.");
    }
  }
}
