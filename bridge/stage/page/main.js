/**
 * The stage page: draws at each frame what the song, the bridge's last word and the clock say.
 *
 * @import {Place} from "./place.js"
 * @import {Way} from "./outlook.js"
 */

import { keepAwake } from "./awake.js";
import { barAt } from "./axis.js";
import { Control } from "./control.js";
import { Edge } from "./edge.js";
import { drawFigures, drawNothing } from "./figures.js";
import { Gauge } from "./gauge.js";
import { drawHolding } from "./holding.js";
import { Link } from "./link.js";
import { distance, energyAt, homesOnTheWay, landingInWords, wayAhead, wayInSeconds } from "./outlook.js";
import { Pace } from "./pace.js";
import { drawPeople } from "./people.js";
import { placeAt } from "./place.js";
import { drawSong, light, part, tellHowToJoin, wire } from "./settings.js";
import { Speaking } from "./speaking.js";
import { Strip } from "./strip.js";
import { Sync } from "./sync.js";
import { element, show, write } from "./words.js";

/** Younger than this, in seconds, is the bridge's last word live: it speaks once a second. */
const LIVE_SECONDS = 2.5;
/** So long the page counts on alone before it shows nothing rather than a guess. */
const ALONE_SECONDS = 30;
const CUE_SECONDS = 12;
/** A way that is over sooner is not drawn: its surface would rise and fall too often. */
const SHORTEST_WAY_SECONDS = 1.05;
/** Figures and beats are drawn at the frame; what moves slowly, less often: it spares batteries. */
const GAUGE_SECONDS = 0.045;
const STRIP_SECONDS = 0.3;
const SYNC_MS = 10_000;

const sync = new Sync();
const link = new Link(() => {});
const control = new Control();
const gauge = new Gauge(element("gauge"));
const strip = new Strip(element("strip"));
const speaking = new Speaking();
const edge = new Edge();
const pace = new Pace();
const calm = matchMedia("(prefers-reduced-motion: reduce)");

/** @type {{key: string, way: Way, homes: Map<string, number[]>} | null} */
let ahead = null;
let steps = "";

function frame() {
  requestAnimationFrame(frame);
  if (sync.hasSlept()) sync.burst();
  const now = sync.now();
  const { state, song } = link;
  const age = now === null || state === null ? Infinity : now - state.at;
  const isAlone = age > LIVE_SECONDS;
  const isKnown = now !== null && state !== null && song !== null && state.song === link.key;
  const isShown = isKnown && age < LIVE_SECONDS + ALONE_SECONDS && age > -LIVE_SECONDS;
  const place = isShown ? placeAt(song, state, now) : null;
  document.body.classList.toggle("is-alone", isAlone);
  document.body.classList.toggle("is-blank", place === null);
  const words = linkInWords(age, isShown);
  write("link", words.text);
  element("link").dataset.kind = words.kind;
  draw(place);
  edge.draw(isAlone ? null : place, light(), performance.now() / 1000);
  if (state !== null) speaking.hear(state, place, words.kind === "lost" ? "Not connected" : words.text, part());
}

/**
 * @param {number} age
 * @param {boolean} isShown
 * @returns {{kind: string, text: string}}
 */
function linkInWords(age, isShown) {
  const { state } = link;
  if (state === null) return { kind: "waiting", text: "Looking for the bridge …" };
  if (sync.best() === null) return { kind: "waiting", text: "Setting the clock …" };
  if (age > LIVE_SECONDS) {
    const since = age < 60 ? `${Math.floor(age)} s` : `${Math.floor(age / 60)} min`;
    const rest = isShown ? "counted on alone, may be wrong" : "nothing is shown, it would be a guess";
    return { kind: "lost", text: `Not connected for ${since}: ${rest}` };
  }
  if (state.section === null) return { kind: "still", text: "Connected. The place is not known yet" };
  if (isFree()) return { kind: "live", text: "Connected. A passage without bars" };
  if (state.waits) return { kind: "still", text: "Connected. Waits to be released" };
  if (!state.playing) return { kind: "still", text: "Connected. Stopped" };
  if (!state.locked) return { kind: "doubt", text: "Connected. The place is not certain" };
  return { kind: "live", text: "Connected. In time" };
}

/** @type {Map<string, number>} */
const drawnAt = new Map();

/**
 * @param {string} what
 * @param {number} every in seconds
 */
function isDue(what, every) {
  const now = performance.now() / 1000;
  if (now - (drawnAt.get(what) ?? -Infinity) < every) return false;
  drawnAt.set(what, now);
  return true;
}

function isFree() {
  const { state, song } = link;
  return song !== null && state !== null && state.section !== null && song.sections[state.section]?.free !== null;
}

/** @param {Place | null} place */
function draw(place) {
  const { state, song } = link;
  if (song !== null && state !== null) drawSong(song, state);
  if (isDue("strip", STRIP_SECONDS)) strip.draw(song, place);
  if (song === null || state === null || place === null) {
    drawNothing();
    gauge.draw(null, "");
    return;
  }
  const { way, homes } = look(place);
  const own = ownLayers();
  drawFigures(song, place, own, part() !== "");
  if (pace.allows("lists", performance.now() / 1000)) {
    drawPeople(song, place, part());
    drawHolding(place, control.isAllowed ? (_, name) => control.ask("release", name) : null);
  }
  control.draw(song, state);
  drawCue();
  show("offer", state.offer !== "");
  write("offer-words", state.offer);
  write("gauge-words", place.isOver ? "The end" : landingInWords(way, place));
  write("strip-words", energyInWords(place));
  drawGauge(place, way, homes);
}

/**
 * @param {Place} place
 * @param {Way} way
 * @param {Map<string, number[]>} homes
 */
function drawGauge(place, way, homes) {
  const isAway = place.isOver || place.section.free !== null;
  const isCounted = !isAway && wayInSeconds(way) > SHORTEST_WAY_SECONDS;
  element("gauge").classList.toggle("is-away", isAway);
  const step = `${place.index} ${barAt(place.section, place.into).number} ${innerWidth} ${innerHeight} ${way.length}`;
  const isSame = step === steps && isCounted;
  if (isSame && (calm.matches || !isDue("gauge", GAUGE_SECONDS))) return;
  steps = step;
  const inks = new Map((link.song?.layers ?? []).map((name, index) => [name, index]));
  const sight = { place, way, homes, inks, own: part() === "" ? [] : ownLayers() };
  gauge.draw(isCounted ? sight : null, String(distance(way, place).bars));
}

/**
 * Return the way ahead, worked out once for as long as it is the same.
 *
 * @param {Place} place
 */
function look(place) {
  const ladder = place.ladder.map((rung) => rung.into).join();
  const openUntil = place.leaves === null && place.ladder.length === 0 ? barAt(place.section, place.into).number : "";
  const key = [link.key, place.index, place.leaves, place.follows, ladder, openUntil].join(" ");
  if (ahead === null || ahead.key !== key) {
    const way = wayAhead(/** @type {import("./types.js").Song} */ (link.song), place);
    ahead = { key, way, homes: homesOnTheWay(way) };
  }
  return ahead;
}

function drawCue() {
  const cue = link.state?.cue ?? null;
  const now = sync.now() ?? 0;
  show("cue", cue !== null);
  if (cue === null) return;
  const isMine = (cue.player === "" || cue.player === part()) && now - cue.at < CUE_SECONDS;
  element("cue").classList.toggle("is-mine", isMine);
  write("cue-label", cue.player === "" ? "Last cue:" : `Last cue, ${cue.player}:`);
  write("cue-text", cue.text);
}

/** @param {Place} place */
function energyInWords(place) {
  const now = energyAt(place.section, place.into);
  const next = place.follows === null ? null : (link.song?.sections[place.follows] ?? null);
  const then = next === null ? null : energyAt(next, 0);
  const first = now === null ? "Energy not planned here" : `Energy ${Math.round(now)} of 100`;
  return next === null || then === null ? first : `${first}; ${next.name} begins at ${Math.round(then)}`;
}

function ownLayers() {
  const { song } = link;
  if (song === null) return [];
  return song.players.find((player) => player.name === part())?.layers ?? song.layers;
}

wire();
keepAwake();
element("more").addEventListener("toggle", () => tellHowToJoin().catch(() => {})); // not connected: the link says so
sync.burst();
setInterval(() => sync.burst(3), SYNC_MS);
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible") sync.burst();
});
requestAnimationFrame(frame);
