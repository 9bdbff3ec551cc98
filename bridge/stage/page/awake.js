/**
 * Keeping the screen on, where the browser lets a page do so (Screen Wake Lock API: over https or
 * on this machine only); else how to do it by hand.
 */

import { element } from "./words.js";

const BY_HAND =
  "This browser does not let a page keep the screen on when it comes over plain HTTP. In the device's own " +
  "settings, under the display, set the screen's timeout to the longest or to never while you play, and plug it in.";

export function keepAwake() {
  const { wakeLock } = navigator;
  const words = element("awake");
  if (wakeLock === undefined) {
    words.textContent = BY_HAND;
    return;
  }
  const ask = async () => {
    if (document.visibilityState !== "visible") return;
    try {
      await wakeLock.request("screen");
      words.textContent = "The screen stays on while this page is seen.";
    } catch {
      words.textContent = BY_HAND;
    }
  };
  document.addEventListener("visibilitychange", ask);
  ask();
}
