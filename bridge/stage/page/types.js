/**
 * The shapes that come over the wire; `description.py` and `state.py` write them.
 *
 * Unless said otherwise, numbers are quarters from the section's start.
 *
 * @typedef {{name: string, beats: number[]}} Meter beats are the lengths of the counted beats
 * @typedef {{start: number, end: number | null, first: number, cycle: number, exact: string, words: string}} Piece
 * @typedef {{name: string, player: string, begun: number | null, until: number | null, pieces: Piece[]}} Layer
 * @typedef {{first: number, every: number, until: number | null, then: number[]}} Meetings
 * @typedef {{
 *   name: string, letter: string | null, note: string | null, bars: number, first_bar: number,
 *   length: number, starts_seconds: number, lasts_seconds: number, tempo: [number, number],
 *   meters: Meter[], energy: number[], vamp: boolean, free: string[] | null, runs_on: boolean,
 *   resolve: string[], resolved: boolean, layers: Layer[], gather: string[],
 *   meetings: Meetings | null, lands: boolean, beyond: {first: number, every: number} | null
 * }} Section
 * @typedef {{
 *   format: number, title: string, bars: number, seconds: number,
 *   players: {name: string, layers: string[]}[], layers: string[], sections: Section[]
 * }} Song
 * @typedef {{into: number, bar: number, home: string[], others: string[]}} Rung
 * @typedef {{at: number, quarters: number, rate: number}} Line at is in seconds of the bridge's clock
 * @typedef {{
 *   at: number, song: string, number: number, songs: string[], section: number | null,
 *   line: Line | null, playing: boolean, locked: boolean, source: string | null, bpm: number | null,
 *   held: boolean, leaves: number | null, follows: number | null, ladder: Rung[], waits: boolean,
 *   cue: {text: string, player: string, at: number} | null, offer: string,
 *   dropped: number, late: number, name: string
 * }} State
 */

export {};
