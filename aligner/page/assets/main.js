// Puts the page together: the talk, the clock, what follows it, and everything that can be pressed.

import { Board } from "./board.js";
import { MediaClock, SilentClock } from "./clock.js";
import { copyText } from "./copy.js";
import { Follower } from "./follow.js";
import { fragmentOf, parseFragment } from "./fragment.js";
import { listenToKeys } from "./keys.js";
import { Marks, shareAt } from "./marks.js";
import { Search } from "./search.js";
import { clockText, readTalk } from "./talk.js";
import { Words } from "./words.js";

const LEAP = 5;
const find = (id) => document.getElementById(id);
const button = (name) => document.querySelector(`button[data-act="${name}"]`);

const talk = readTalk(find("talk").textContent);
const media = find("media");
const slider = find("slider");
const end = talk.end / 1000;
let clock = media ? new MediaClock(media, end) : new SilentClock(end);
let until = Infinity;

const words = new Words(find("words"), talk.paragraphs, (following) => {
  button("follow").setAttribute("aria-pressed", String(following));
});
const follower = new Follower(talk, {
  board: new Board(find("board")),
  words,
  marks: new Marks(document),
  slider,
  caption: find("position"),
  standing: find("line"),
  slip: find("slip"),
  men: find("men"),
  now: find("now"),
  aloud: find("spoken-position"),
  onPlace: (at) => {
    button("back").disabled = at.previous < 0;
    button("on").disabled = at.next < 0;
    button("other").disabled = at.other < 0;
    button("game").disabled = at.game < 0;
  },
});

let lasting = "";
let fading = 0;

/** Tells something below the controls: until the next time, or a copy's outcome for some seconds. */
function notice(text, stays) {
  if (stays) lasting = text;
  find("notice").textContent = text;
  clearTimeout(fading);
  if (!stays) fading = setTimeout(() => (find("notice").textContent = lasting), 5000);
}

// Following: a frame is asked for only while the talk plays.

let waiting = false;

function frame() {
  waiting = false;
  if (clock.now >= until) {
    const stop = until;
    until = Infinity;
    clock.pause();
    clock.seek(stop);
  }
  follower.follow(clock.now, clock.playing);
  if (clock.playing && clock.now >= clock.end && clock instanceof SilentClock) clock.pause();
  if (clock.playing) wake();
}

function wake() {
  if (!waiting) {
    waiting = true;
    requestAnimationFrame(frame);
  }
}

function changed() {
  button("play").textContent = clock.playing ? "Pause" : "Play";
  slider.max = clock.end;
  wake();
}

function useClock(next) {
  clock = next;
  clock.addEventListener("change", changed);
}

useClock(clock);
media?.addEventListener("error", () => {
  if (!(clock instanceof MediaClock)) return;
  const { now } = clock;
  useClock(new SilentClock(end));
  clock.seek(now);
  media.hidden = true;
  notice("The recording cannot be opened; the talk goes on silently, at its own pace.", true);
});

// Going somewhere.

/** Goes to a time in seconds and, where one is given, to a position; remembers the moment in the address. */
function goTo(seconds, place = -1) {
  until = Infinity;
  clock.seek(seconds);
  follower.follow(seconds, clock.playing);
  if (place >= 0) {
    follower.arrive(seconds);
    follower.show(place, !clock.playing);
  }
  words.bringIntoView();
  remember(seconds, true);
}

function remember(seconds, leap) {
  const hash = fragmentOf(seconds);
  if (hash === location.hash) return;
  if (leap) history.pushState(null, "", hash);
  else history.replaceState(null, "", hash);
}

/** Goes to a position, at that of its moments which is nearest. */
function goToPlace(index) {
  if (index < 0) return;
  const { times } = talk.places[index];
  if (!times.length) {
    follower.show(index, !clock.playing);
    return;
  }
  const now = clock.now * 1000;
  const nearest = times.reduce((best, time) => (Math.abs(time - now) < Math.abs(best - now) ? time : best));
  goTo(nearest / 1000, index);
}

function goToSpoken(step) {
  const now = clock.now * 1000;
  const starts = talk.moments.filter((moment) => moment.spoken >= 0);
  const found = step > 0
    ? starts.find((moment) => moment.time > now + 20)
    : starts.findLast((moment) => moment.time < now - 20);
  if (found) goTo(found.time / 1000, found.place);
}

function goToAddress() {
  // Back to where the page was opened: at the beginning.
  const interval = location.hash ? parseFragment(location.hash) : { start: 0, end: Infinity };
  if (interval) {
    clock.seek(interval.start);
    until = interval.end;
    follower.follow(interval.start, false);
    words.bringIntoView();
    return;
  }
  const move = /^#move-(\d+)$/.exec(location.hash);
  if (move && talk.places[Number(move[1])]) follower.show(Number(move[1]), true);
}

// What can be pressed.

async function copy(text, what) {
  notice((await copyText(text)) ? `${what} copied.` : `${what} could not be copied; the browser does not allow it.`, false);
}

function changeRate(step) {
  const rate = find("rate");
  rate.selectedIndex = Math.min(rate.length - 1, Math.max(0, rate.selectedIndex + step));
  clock.rate = Number(rate.value);
}

const ACTS = {
  play: () => {
    if (clock.playing) {
      clock.pause();
      remember(clock.now, false);
    } else {
      clock.rate = Number(find("rate").value);
      clock.play();
    }
  },
  earlier: () => goTo(Math.max(0, clock.now - LEAP)),
  later: () => goTo(Math.min(clock.end, clock.now + LEAP)),
  back: () => goToPlace(follower.previous),
  on: () => goToPlace(follower.next),
  other: () => goToPlace(follower.other),
  game: () => goToPlace(follower.game),
  "said-before": () => goToSpoken(-1),
  "said-after": () => goToSpoken(1),
  turn: () => follower.board.turn(),
  fen: () => copy(talk.places[follower.place].fen, "The position (FEN)"),
  pgn: () => copy(talk.pgn, "The game (PGN)"),
  link: () => copy(location.href.split("#")[0] + fragmentOf(clock.now), `A link to ${clockText(clock.now * 1000)}`),
  slower: () => changeRate(-1),
  faster: () => changeRate(1),
  follow: () => (words.following = !words.following),
  search: () => find("query").focus(),
  keys: () => find("keys").showModal(),
};

button("pgn").hidden = !talk.pgn;
listenToKeys((name) => ACTS[name](), find("letters"));

function showView(view) {
  document.body.dataset.view = view;
  for (const choice of document.querySelectorAll(".views button")) {
    choice.setAttribute("aria-pressed", String(choice.dataset.view === view));
  }
  if (view === "words") words.bringIntoView();
}

/** The place and time a link in the page leads to. */
function follows(link) {
  const interval = parseFragment(link.hash);
  const { spoken, place, time } = link.dataset;
  if (spoken !== undefined) return goTo(talk.spoken[spoken].start / 1000, talk.spoken[spoken].places.at(-1));
  const index = Number(place);
  if (link.classList.contains("move")) return follower.place === index ? nextMoment(index) : goToPlace(index);
  if (interval) return goTo(time === undefined ? interval.start : Number(time) / 1000, place === undefined ? -1 : index);
  return follower.show(index, !clock.playing);
}

/** Goes to the next moment of the position that is shown, after the last to its first. */
function nextMoment(index) {
  const { times } = talk.places[index];
  const later = times.find((time) => time > clock.now * 1000 + 20) ?? times[0];
  if (later !== undefined) goTo(later / 1000, index);
}

document.addEventListener("click", (event) => {
  if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.shiftKey) return;
  const act = event.target.closest("button[data-act]");
  if (act) return ACTS[act.dataset.act]();
  const view = event.target.closest(".views button");
  if (view) return showView(view.dataset.view);
  const link = event.target.closest("a[href^='#t='], a[data-place]");
  if (link) {
    event.preventDefault();
    return follows(link);
  }
  const picture = event.target.closest("svg.picture");
  if (picture) return goTo((shareAt(picture, event) * talk.end) / 1000);
  if (event.target.closest(".text") && getSelection().isCollapsed && !event.target.closest("a")) {
    const word = words.wordAt(event);
    if (word >= 0) goTo(talk.wordTimes[word] / 1000);
  }
});
slider.addEventListener("input", () => {
  until = Infinity;
  clock.seek(Number(slider.value));
  follower.follow(clock.now, clock.playing);
});
slider.addEventListener("change", () => remember(clock.now, false));
find("rate").addEventListener("change", () => changeRate(0));
addEventListener("hashchange", goToAddress);
addEventListener("popstate", goToAddress);

new Search(talk, words, { input: find("query"), found: find("found"), count: find("found-count") });
document.documentElement.classList.remove("still");
if (media?.error) media.dispatchEvent(new Event("error"));
follower.follow(0, false);
goToAddress();
