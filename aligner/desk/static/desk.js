// The page: shows one question at a time and sends every decision at once.

import { board, playable } from "./board.js";
import { ask, tell } from "./server.js";

const LEAD = 2; // seconds that are heard before the words
const POLL = 700; // milliseconds
const find = (id) => document.getElementById(id);

let words = []; // [text, seconds]
let state = { version: "", doubts: [], rows: [], findings: [], inferred: [], changes: [], notes: [], settled: 0 };
let current = null; // the row that is asked about
let chosen = false; // whether the user chose it, rather than the order of doubts
let picks = 0; // how often the user chose
let extra = []; // answers that were typed or clicked
let range = null; // first word that was clicked in the talk
let polled = false; // whether the fault that is shown came of asking for news
const sent = new Set(); // words that were decided and are not aligned yet

// before the same words several moves may go unspoken
const key = (row) => `${row.kind} ${row.words} ${row.kind === "inferred" ? row.name : ""}`;
const same = (one, other) => one && other && key(one) === key(other);

function clock(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  const two = (number) => String(number).padStart(2, "0");
  const [hours, minutes, rest] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  return hours ? `${hours}:${two(minutes)}:${two(rest)}` : `${minutes}:${two(rest)}`;
}

function make(tag, text, attributes = {}) {
  const element = document.createElement(tag);
  if (text) element.textContent = text;
  Object.assign(element, attributes);
  return element;
}

/** Shows a fault, or none. Asking for news, `polling`, leaves what the user was told before to be read. */
function complain(error, polling = false) {
  const fault = find("fault");
  if (polling && !fault.hidden && !polled) return;
  fault.textContent = error ? error.message : "";
  fault.hidden = !error;
  polled = polling;
}

async function attempt(work, polling = false) {
  try {
    const result = await work();
    complain(null, polling);
    return result;
  } catch (error) {
    complain(error, polling);
    return null;
  }
}

// --- the question -----------------------------------------------------------------------------------------

function answers() {
  return current ? [...current.answers, ...extra] : [];
}

function showQuestion() {
  const [context, list] = [find("context"), find("answers")];
  context.replaceChildren();
  list.replaceChildren();
  if (!current) {
    showBoard("before", "");
    showBoard("game", "");
    context.textContent = state.busy ? "Aligning the talk …" : "Nothing is doubtful any more.";
    return;
  }
  const [first, past] = current.words;
  const said = (from, to) => words.slice(Math.max(from, 0), to).map((word) => word[0]).join(" ");
  context.append(`${clock(current.start)}  … ${said(first - 18, first)} `, make("mark", said(first, past)), ` ${said(past, past + 14)} …`);
  if (current.kind === "inferred") list.append(make("p", "Which move was this? Nobody spoke it; it was played before these words."));
  if (current.kind === "finding") {
    list.append(make("p", current.text));
    for (const [place, decision] of ["right", "wrong"].entries()) {
      const button = make("button", `${place + 1}  ${decision}`, { className: "answer", type: "button" });
      button.addEventListener("click", () => settleFinding(decision));
      list.append(button);
    }
  }
  answers().forEach((answer, place) => list.append(answerButton(answer, place)));
  showBoard("before", current.fen, current.base);
  showBoard("game", current.game_fen === current.fen ? "" : current.game_fen, current.game_base);
}

function showBoard(id, fen, base) {
  const figure = find(id);
  figure.querySelectorAll("img").forEach((image) => image.remove());
  figure.hidden = !fen;
  if (fen) figure.append(playable(fen, (squares) => look({ text: squares, base })));
}

function answerButton(answer, place) {
  const button = make("button", "", { className: "answer", type: "button" });
  if (answer.name === current.name) button.classList.add("now");
  const share = answer.probability ? `  ${Math.round(100 * answer.probability)} %` : "";
  const where = answer.decision === "move" && extra.includes(answer) ? (answer.in_game ? " in the game" : " in a line") : "";
  button.append(make("kbd", String(place + 1)), ` ${answer.name}${where}${share}`);
  if (answer.fen) button.append(board(answer.fen, answer.last));
  if (answer.changes.length) {
    const told = answer.changes.slice(0, 6).map((one) => `${clock(one.start)} ${one.text}: ${one.name}`);
    if (answer.changes.length > 6) told.push(`and ${answer.changes.length - 6} more`);
    button.append(make("small", `Changes ${told.join("; ")}`));
  }
  button.addEventListener("click", () => settle(answer));
  return button;
}

async function open(row) {
  const pick = picked();
  const full = await attempt(() => ask("row", { kind: row.kind, first: row.words[0], past: row.words[1], name: row.name ?? "" }));
  if (full && pick === picks) ask_about(full);
}

/** The user chose what to look at: no answer of the server that is still on its way may put another in its place. */
function picked() {
  chosen = true;
  picks += 1;
  complain(null);
  return picks;
}

function ask_about(row) {
  current = row;
  extra = [];
  find("typed").value = "";
  showQuestion();
  hear(false);
}

function hear(play) {
  const media = find("media");
  if (!media || !current) return;
  media.currentTime = Math.max(0, current.start - LEAD);
  if (play) media.play().catch(() => {});
}

// --- decisions ---------------------------------------------------------------------------------------------

async function decide(row, data) {
  const [first, past] = row.words;
  const pick = picks;
  if (!(await attempt(() => tell("decide", { first, past, ...data })))) return;
  find("said").textContent = "";
  sent.add(key(row));
  if (pick === picks) {
    chosen = false;
    next();
  }
  refresh();
}

function settle(answer) {
  if (!current) return;
  const { decision, line, spoken, in_game, again } = answer;
  const kind = current.kind === "inferred" && decision === "move" ? "inferred" : decision;
  decide(current, { decision: kind, line, spoken, in_game, again });
}

function settleFinding(decision) {
  decide(current, { decision });
}

async function look(data) {
  if (!current) return;
  const pick = picked();
  const [first, past] = current.words;
  // a move that nobody spoke stands where the inferred one does
  const inferred = current.kind === "inferred" ? { base: current.base, in_game: current.answers[0].in_game } : {};
  const found = await attempt(() => tell("typed", { first, past, ...data, ...inferred }));
  if (!found || pick !== picks) return;
  extra = found.answers;
  showQuestion();
}

async function undo() {
  const pick = picks;
  const taken = await attempt(() => tell("undo"));
  if (!taken) return;
  sent.clear();
  if (pick === picks) {
    chosen = false;
    current = null;
  }
  await refresh();
}

// --- lists -------------------------------------------------------------------------------------------------

function next() {
  const open = state.doubts.filter((row) => !sent.has(key(row)));
  const place = open.findIndex((row) => same(row, current));
  if (chosen && current) return;
  ask_about(open[place < 0 ? 0 : place] ?? null);
}

function step(by) {
  const open = state.doubts.filter((row) => !sent.has(key(row)));
  if (!open.length) return;
  const place = open.findIndex((row) => same(row, current));
  picked();
  ask_about(open[(place + by + open.length) % open.length]);
}

function item(row, text) {
  const button = make("button", `${clock(row.start)} ${text}`, { type: "button" });
  if (row.settled || sent.has(key(row))) button.classList.add("settled");
  if (row.doubtful) button.classList.add("doubtful");
  button.addEventListener("click", () => open(row));
  const line = make("li");
  line.append(button);
  return line;
}

function showLists() {
  const left = state.doubts.filter((row) => !sent.has(key(row))).length;
  const busy = state.busy ? ` · aligning ${Math.round(100 * (state.done || 0))} %` : "";
  find("progress").textContent = `${state.settled} settled, ${left} doubts left${busy}`;
  find("doubts").replaceChildren(...state.doubts.map((row) => item(row, `${row.text}: ${row.name}`)));
  find("rows").replaceChildren(...state.rows.map((row) => item(row, `${row.text}: ${row.name}`)));
  find("findings").replaceChildren(...state.findings.map((row) => item(row, row.text)));
  find("inferred").replaceChildren(...state.inferred.map((row) => item(row, `${row.name}, ${row.text}`)));
  find("changes").replaceChildren(...state.changes.map((one) => make("li", `${clock(one.start)} ${one.text}: ${one.before} → ${one.after}`)));
  find("notes").replaceChildren(...state.notes.map((note) => make("li", note)));
}

async function refresh() {
  const fresh = await attempt(() => ask("state", { version: state.version }), true);
  if (!fresh) return;
  if (fresh.fault) complain(new Error(fresh.fault), true);
  const known = fresh.unchanged || !fresh.doubts;
  state = known ? { ...state, busy: fresh.busy, done: fresh.done } : fresh;
  if (!state.busy) sent.clear();
  showLists();
  if (!known) next();
}

async function poll() {
  await refresh();
  setTimeout(poll, POLL);
}

function showTalk() {
  find("talk").replaceChildren(
    ...words.map(([text], place) => {
      const span = make("span", `${text} `);
      span.addEventListener("click", (event) => {
        const from = event.shiftKey && range !== null ? Math.min(range, place) : place;
        range = from;
        open({ kind: "words", words: [from, place + 1] });
      });
      return span;
    }),
  );
}

// --- keys --------------------------------------------------------------------------------------------------

const keys = {
  u: undo,
  n: () => current && decide(current, { decision: "no move" }),
  b: () => current && decide(current, { decision: "back in the game" }),
  m: () => find("typed").focus(),
  j: () => step(1),
  k: () => step(-1),
  ArrowDown: () => step(1),
  ArrowUp: () => step(-1),
  " ": () => hear(true),
  Enter: () => extra.length && settle(extra[0]),
};

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === "Escape") return document.activeElement.blur();
  if (["INPUT", "SELECT", "AUDIO", "VIDEO"].includes(document.activeElement.tagName)) return;
  const place = Number(event.key) - 1;
  if (place >= 0 && current) {
    event.preventDefault();
    if (current.kind === "finding" && place < 2) return settleFinding(["right", "wrong"][place]);
    if (answers()[place]) settle(answers()[place]);
  } else if (keys[event.key] && !(event.key === "Enter" && document.activeElement.tagName === "BUTTON")) {
    event.preventDefault();
    keys[event.key]();
  }
});

find("other").addEventListener("submit", (event) => {
  event.preventDefault();
  const where = { game: true, line: false }[find("where").value];
  look({ text: find("typed").value, in_game: where ?? null });
  find("typed").blur();
});
find("typed").addEventListener("input", picked);
find("undo").addEventListener("click", undo);
find("nomove").addEventListener("click", keys.n);
find("back").addEventListener("click", keys.b);
find("forget").addEventListener("click", async () => {
  if (current && (await attempt(() => tell("forget", { first: current.words[0], past: current.words[1] })))) refresh();
});
find("finish").addEventListener("click", async () => {
  const done = await attempt(() => tell("finish"));
  if (done) find("said").textContent = done.said;
});
find("stop").addEventListener("click", async () => {
  const done = await attempt(() => tell("stop"));
  if (done) document.body.replaceChildren(make("p", done.said));
});

attempt(async () => {
  words = await ask("words");
  showTalk();
  poll();
});
