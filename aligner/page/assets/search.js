// Search by move, square or words: all in the page, all at once.

import { clockText, lastBefore, nameOf } from "./talk.js";
import { fragmentOf } from "./fragment.js";

const SHOWN = 40;
const AROUND = 6;
const SQUARE = /^[a-h][1-8]$/;
const MOVE = /^(?:\d+\.+\s*)?(O-O(?:-O)?|0-0(?:-0)?|[KQRBN]?[a-h]?[1-8]?x?[a-h][1-8](?:=?[QRBN])?)[+#!?]*$/;

function plain(text) {
  return text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();
}

function bare(word) {
  return plain(word).replace(/^[^\p{L}\p{N}]+|[^\p{L}\p{N}]+$/gu, "");
}

function bareMove(san) {
  return san.replaceAll("0", "O").replace(/[x=+#]/g, "");
}

/** Moments of moves that fit: [time, place]; a move that is never spoken of has its place and no time. */
export function findMoves(talk, query) {
  const move = MOVE.exec(query.trim())?.[1];
  const square = SQUARE.test(query.trim()) ? query.trim() : null;
  if (!move) return [];
  const number = /^(\d+)\.(\.\.)?/.exec(query.trim());
  const found = [];
  talk.places.forEach((place, index) => {
    if (!place.number) return;
    if (number && (place.number.split(".")[0] !== number[1] || (number[2] && !place.number.endsWith("...")))) return;
    const fits = square
      ? place.uci.slice(0, 2) === square || place.uci.slice(2, 4) === square
      : bareMove(place.san) === bareMove(move);
    if (!fits) return;
    if (place.times.length) found.push(...place.times.map((time) => [time, index]));
    else found.push([null, index]);
  });
  return found.sort((one, other) => (one[0] ?? Infinity) - (other[0] ?? Infinity));
}

/** Indices of words at which all words of a query follow each other; the last may be unfinished. */
export function findWords(bareWords, query) {
  const wanted = query.split(/\s+/).map(bare).filter(Boolean);
  const found = [];
  if (!wanted.length) return found;
  const last = wanted.length - 1;
  for (let at = 0; at + last < bareWords.length; at++) {
    let same = 0;
    while (same < last && bareWords[at + same] === wanted[same]) same++;
    if (same === last && bareWords[at + last].startsWith(wanted[last])) found.push(at);
  }
  return found;
}

function row(time, target, content, dataset) {
  const item = document.createElement("li");
  const link = document.createElement("a");
  const clock = document.createElement("time");
  const text = document.createElement("span");
  link.href = target;
  Object.assign(link.dataset, dataset);
  clock.textContent = time === null ? "unsaid" : clockText(time);
  text.append(...content);
  link.append(clock, text);
  item.append(link);
  return item;
}

function group(title, rows, total) {
  const heading = document.createElement("h2");
  heading.textContent = title;
  const list = document.createElement("ul");
  list.setAttribute("role", "list");
  list.append(...rows);
  const parts = [heading, list];
  if (total > rows.length) {
    const more = document.createElement("p");
    more.className = "notice";
    more.textContent = `and ${total - rows.length} more`;
    parts.push(more);
  }
  return parts;
}

/** The search field and what it finds. */
export class Search {
  #words = null;
  #bare = null;
  #timer = 0;

  constructor(talk, words, { input, found, count }) {
    Object.assign(this, { talk, words, input, found, count });
    input.addEventListener("input", () => {
      clearTimeout(this.#timer);
      this.#timer = setTimeout(() => this.run(), 90);
    });
    input.addEventListener("keydown", (event) => this.#key(event));
    found.addEventListener("keydown", (event) => this.#key(event));
    found.addEventListener("click", (event) => event.target.closest("a") && this.close());
    document.addEventListener("pointerdown", (event) => event.target.closest(".seek") || this.close());
    input.addEventListener("focus", () => input.value && this.run());
  }

  close() {
    this.found.hidden = true;
    this.count.textContent = "";
  }

  run() {
    const query = this.input.value.trim();
    if (!query) return this.close();
    this.#words ??= this.words.texts();
    this.#bare ??= this.#words.map(bare);
    const moves = findMoves(this.talk, query);
    const words = findWords(this.#bare, query);
    const parts = [];
    if (moves.length) parts.push(...group("Moves", moves.slice(0, SHOWN).map((hit) => this.#moveRow(hit)), moves.length));
    if (words.length) {
      const length = query.split(/\s+/).filter(bare).length;
      parts.push(...group("Words", words.slice(0, SHOWN).map((at) => this.#wordRow(at, length)), words.length));
    }
    const total = moves.length + words.length;
    this.count.textContent = total === 1 ? "One place found" : `${total || "No"} places found`;
    if (!total) {
      const none = document.createElement("p");
      none.className = "notice";
      none.textContent = "Nothing found. Try a move (Nf3), a square (e4) or words as they were said.";
      parts.push(none);
    }
    this.found.replaceChildren(...parts);
    this.found.hidden = false;
  }

  #moveRow([time, index]) {
    const place = this.talk.places[index];
    const where = place.depth === 0 ? "in the game" : place.depth === 1 ? "in a sideline" : `in a sideline, ${place.depth} deep`;
    const name = document.createElement("b");
    name.textContent = nameOf(place);
    const target = time === null ? `#move-${index}` : fragmentOf(time / 1000);
    return row(time, target, [name, ` ${where}`], { place: index, ...(time === null ? {} : { time }) });
  }

  #wordRow(at, length) {
    const hit = document.createElement("mark");
    hit.textContent = this.#words.slice(at, at + length).join(" ");
    const before = this.#words.slice(Math.max(0, at - AROUND), at).join(" ");
    const after = this.#words.slice(at + length, at + length + AROUND).join(" ");
    const time = this.talk.wordTimes[at];
    const place = this.talk.moments[lastBefore(this.talk.momentTimes, time)]?.place ?? 0;
    return row(time, fragmentOf(time / 1000), [`${before} `, hit, ` ${after}`], { time, at: nameOf(this.talk.places[place]) });
  }

  #key(event) {
    const links = [...this.found.querySelectorAll("a")];
    const at = links.indexOf(document.activeElement);
    if (event.key === "Escape") {
      this.close();
      this.input.focus();
    } else if (event.key === "ArrowDown" && !this.found.hidden && links.length) {
      links[Math.min(links.length - 1, at + 1)].focus();
    } else if (event.key === "ArrowUp" && at >= 0) {
      (links[at - 1] ?? this.input).focus();
    } else if (event.key === "Enter" && event.target === this.input) {
      clearTimeout(this.#timer);
      this.run();
      this.found.querySelector("a")?.click();
    } else {
      return;
    }
    event.preventDefault();
    event.stopPropagation();
  }
}
