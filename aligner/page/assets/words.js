// The words of the talk: which one is being spoken, which one was clicked, and the page scrolling along.

import { lastBefore } from "./talk.js";

const SCROLLING_KEYS = new Set(["PageUp", "PageDown", "Home", "End", "ArrowUp", "ArrowDown"]);
const STILL = matchMedia("(prefers-reduced-motion: reduce)");

/** The text nodes of a paragraph without the errata's signs. */
function textNodes(paragraph) {
  const walker = document.createTreeWalker(paragraph, NodeFilter.SHOW_TEXT, (node) =>
    node.parentElement.closest(".dagger") ? NodeFilter.FILTER_REJECT : NodeFilter.FILTER_ACCEPT);
  const nodes = [];
  while (walker.nextNode()) nodes.push(walker.currentNode);
  return nodes;
}

/** A range over each word of a paragraph; words are parted by single spaces. */
function rangesIn(paragraph) {
  const ranges = [];
  for (const node of textNodes(paragraph)) {
    for (const word of node.data.matchAll(/[^ ]+/g)) {
      const range = new StaticRange({
        startContainer: node, startOffset: word.index, endContainer: node, endOffset: word.index + word[0].length,
      });
      ranges.push(range);
    }
  }
  return ranges;
}

/** The node and offset under a point, by whichever of the two names the browser knows it. */
function caretAt(x, y) {
  const position = document.caretPositionFromPoint?.(x, y);
  if (position) return [position.offsetNode, position.offset];
  const range = document.caretRangeFromPoint?.(x, y);
  return range ? [range.startContainer, range.startOffset] : null;
}

/** The words in the page. `onFollow` is told when the reader scrolls away. */
export class Words {
  #paragraphs;
  #firsts;
  #ranges = { at: -1, list: [] };
  #word = -1;
  #highlight = globalThis.Highlight ? new Highlight() : null;
  #following = true;

  constructor(element, firsts, onFollow) {
    this.element = element;
    this.#paragraphs = [...element.querySelectorAll(".text")];
    this.#firsts = firsts;
    this.onFollow = onFollow;
    if (this.#highlight) CSS.highlights.set("word", this.#highlight);
    const away = () => this.#following && ((this.#following = false), this.onFollow(false));
    addEventListener("wheel", (event) => event.target.closest?.(".words, .board") && away(), { passive: true });
    addEventListener("touchmove", (event) => event.target.closest?.(".words") && away(), { passive: true });
    addEventListener("keydown", (event) => SCROLLING_KEYS.has(event.key) && event.target === document.body && away());
  }

  get following() {
    return this.#following;
  }

  set following(following) {
    this.#following = following;
    this.onFollow(following);
    if (following) this.bringIntoView();
  }

  /** The index of the word under a mouse event, or -1. */
  wordAt(event) {
    const paragraph = event.target.closest(".text");
    const caret = paragraph && caretAt(event.clientX, event.clientY);
    if (!caret) return -1;
    const at = this.#paragraphs.indexOf(paragraph);
    const found = this.#rangesOf(at).findIndex(
      (range) => range.startContainer === caret[0] && caret[1] >= range.startOffset && caret[1] <= range.endOffset,
    );
    return found < 0 ? -1 : this.#firsts[at] + found;
  }

  /** All words of the talk as strings, worked out anew. */
  texts() {
    return this.#paragraphs.flatMap((paragraph) => textNodes(paragraph).map((node) => node.data).join("").split(" "));
  }

  /** Marks a word as being spoken (-1 for none); scrolls to it where `scrolls` and the reader follows. */
  show(word, scrolls) {
    if (word === this.#word) return;
    this.#word = word;
    this.#highlight?.clear();
    const range = this.#range(word);
    if (!range) return;
    this.#highlight?.add(range);
    if (scrolls && this.#following) this.bringIntoView();
  }

  /** Scrolls to the word being spoken unless it can be seen well. */
  bringIntoView() {
    const range = this.#range(this.#word);
    if (!range || !this.element.offsetParent) return;
    const place = document.createRange();
    place.setStart(range.startContainer, range.startOffset);
    place.setEnd(range.endContainer, range.endOffset);
    const box = place.getBoundingClientRect();
    // On a narrow page the board stays above the words and covers what is under it.
    const board = document.querySelector(".board");
    const covers = board.clientWidth > innerWidth / 2 && getComputedStyle(board).position === "sticky";
    const top = covers ? board.clientHeight : 0;
    const bottom = document.querySelector(".transport").getBoundingClientRect().top;
    const band = bottom - top;
    if (box.top >= top + band * 0.08 && box.bottom <= top + band * 0.8) return;
    scrollBy({ top: box.top - top - band * 0.25, behavior: STILL.matches ? "instant" : "smooth" });
  }

  #range(word) {
    const at = lastBefore(this.#firsts, word);
    return at < 0 ? undefined : this.#rangesOf(at)[word - this.#firsts[at]];
  }

  #rangesOf(at) {
    if (at !== this.#ranges.at) this.#ranges = { at, list: rangesIn(this.#paragraphs[at]) };
    return this.#ranges.list;
  }
}
