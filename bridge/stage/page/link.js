/**
 * The line to the bridge: what it said last, and whether it still says anything.
 *
 * Reconnects by itself, whatever the browser's own way of doing so is.
 *
 * @import {Song, State} from "./types.js"
 */

const SILENT_MS = 3000;
const AGAIN_MS = 700;

export class Link {
  /** @param {() => void} tell called when something has come in */
  constructor(tell) {
    this.tell = tell;
    /** @type {State | null} */
    this.state = null;
    /** @type {Song | null} */
    this.song = null;
    this.key = "";
    this.loading = "";
    /** By this device's clock. */
    this.heardAt = -Infinity;
    this.openedAt = -Infinity;
    /** @type {EventSource | null} */
    this.source = null;
    this.open();
    setInterval(() => this.watch(), AGAIN_MS);
    addEventListener("online", () => this.open());
  }

  open() {
    this.source?.close();
    this.openedAt = performance.now();
    this.source = new EventSource("/state");
    this.source.addEventListener("state", (event) => this.hear(JSON.parse(event.data)));
  }

  /** @param {State} state */
  hear(state) {
    this.state = state;
    this.heardAt = performance.now();
    if (state.song !== this.key) this.load(state.song);
    this.tell();
  }

  /** @param {string} key */
  async load(key) {
    if (this.loading === key) return;
    this.loading = key;
    try {
      const answer = await fetch(`/song/${encodeURIComponent(key)}`);
      if (answer.ok) {
        this.song = await answer.json();
        this.key = key;
        this.tell();
      }
    } catch {
      // the next message from the bridge asks for it again
    } finally {
      this.loading = "";
    }
  }

  /** Open the line anew where it has closed, or nothing has come over it for too long. */
  watch() {
    const now = performance.now();
    const isClosed = this.source === null || this.source.readyState === EventSource.CLOSED;
    const isSilent = now - Math.max(this.heardAt, this.openedAt) > SILENT_MS;
    if (isClosed || isSilent) this.open();
  }
}
