// Following the talk: from a time to a position and a word, and from a position back to a time.

import { inWords } from "./board.js";
import { clockText, lastBefore, nameOf } from "./talk.js";

// A recording may stop a little before the moment it was sent to.
const TOLERANCE = 15;
const SLIP_SHOWN = 7000;

/** Keeps board, words and marks at the time of the clock, and goes where the reader wants. */
export class Follower {
  #moment = -2;
  #second = -1;
  #chosen = new Map();
  place = 0;

  constructor(talk, parts) {
    this.talk = talk;
    Object.assign(this, parts);
    this.show(talk.moments.length && talk.moments[0].time === 0 ? talk.moments[0].place : 0, false);
  }

  /** Brings everything to a time in seconds; cheap where nothing changed. */
  follow(seconds, playing) {
    const time = seconds * 1000 + TOLERANCE;
    const moment = lastBefore(this.talk.momentTimes, time);
    if (moment !== this.#moment) {
      this.#moment = moment;
      const here = this.talk.moments[moment];
      this.marks.spoken(here?.spoken ?? -1);
      this.show(here?.place ?? 0, !playing);
    }
    this.words.show(lastBefore(this.talk.wordTimes, time), true);
    this.marks.time(Math.min(1, (seconds * 1000) / Math.max(1, this.talk.end)));
    const second = Math.floor(seconds);
    if (second !== this.#second) {
      this.#second = second;
      this.now.textContent = clockText(seconds * 1000);
      this.slider.setAttribute("aria-valuetext", clockText(seconds * 1000));
      this.#showSlip(time);
    }
    this.slider.value = seconds;
  }

  /** Takes a time as reached, so that the position chosen with it stays until the talk goes on. */
  arrive(seconds) {
    this.#moment = lastBefore(this.talk.momentTimes, seconds * 1000 + TOLERANCE);
    this.marks.spoken(this.talk.moments[this.#moment]?.spoken ?? -1);
  }

  /** Shows a position; `aloud` tells it to screen readers, too. */
  show(index, aloud) {
    const { places } = this.talk;
    const place = places[index];
    this.place = index;
    if (place.parent >= 0) this.#chosen.set(place.parent, index);
    const turn = place.fen.split(" ")[1] === "w" ? "White" : "Black";
    const name = document.createElement("b");
    name.textContent = nameOf(place);
    this.caption.replaceChildren(...(place.number ? ["After ", name] : ["The start"]), ` \u00b7 ${turn} to move`);
    const where = this.#where(index);
    this.standing.textContent = where;
    this.board.show(place.fen, place.uci, `${place.number ? `After ${nameOf(place)}` : "The start"}, ${turn} to move`);
    this.men.textContent = inWords(place.fen);
    this.marks.place(index);
    if (aloud) this.aloud.textContent = `${place.number ? nameOf(place) : "The start"}. ${where}`;
    this.onPlace(this);
  }

  /** The next position on the line, the one last visited first; -1 at its end. */
  get next() {
    const { below } = this.talk.places[this.place];
    return this.#chosen.get(this.place) ?? below[0] ?? -1;
  }

  /** The position before; -1 at the start. */
  get previous() {
    return this.talk.places[this.place].parent;
  }

  /** The next of the lines at this point, in turn; -1 where there is only one. */
  get other() {
    const { places } = this.talk;
    const siblings = places[places[this.place].parent]?.below ?? [];
    return siblings.length < 2 ? -1 : siblings[(siblings.indexOf(this.place) + 1) % siblings.length];
  }

  /** The game's position from which the sideline left; -1 in the game. */
  get game() {
    let at = this.place;
    while (at >= 0 && this.talk.places[at].depth > 0) at = this.talk.places[at].parent;
    return at === this.place ? -1 : at;
  }

  #where(index) {
    const { places } = this.talk;
    const { depth } = places[index];
    if (depth === 0) return "In the game";
    let at = index;
    while (places[places[at].parent].depth === depth) at = places[at].parent;
    const before = places[places[at].parent];
    const first = places[before.below[0]];
    const how = depth === 1 ? "In a sideline" : `In a sideline, ${depth} deep`;
    return before.below[0] !== at && first.depth < depth ? `${how}, instead of ${nameOf(first)}` : `${how}, after ${nameOf(before)}`;
  }

  #showSlip(time) {
    const at = lastBefore(this.talk.errataTimes, time);
    const slip = this.talk.errata[at];
    const text = slip && time - slip.time < SLIP_SHOWN ? `\u2020 ${slip.message}` : "";
    if (this.slip.textContent !== text) this.slip.textContent = text;
  }
}
