// The keyboard: one key for each thing the page does.

const KEYS = {
  " ": "play", b: "earlier", f: "later", ArrowLeft: "back", ArrowRight: "on", s: "other", g: "game", k: "said-before",
  j: "said-after", t: "turn", c: "fen", p: "pgn", l: "link", "-": "slower", "+": "faster", "=": "faster", w: "follow",
  "/": "search", "?": "keys",
};

/** Calls `act` with the name of what a key does; `letters` is a checkbox that switches keys that write a sign off. */
export function listenToKeys(act, letters) {
  addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    const target = event.target instanceof Element ? event.target : document.body;
    const dialog = target.closest("dialog");
    // The browser leaves the focus in a dialog that was closed until it draws the page again.
    if (dialog ? dialog.open : target.closest("input:not([type='range']), select, textarea")) return;
    // A focused button or slider does its own thing.
    if (event.key === " " && target.closest("button")) return;
    if (event.key.startsWith("Arrow") && target.closest("input")) return;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const name = KEYS[key];
    if (!name || (key.length === 1 && key !== " " && !letters.checked)) return;
    event.preventDefault();
    act(name);
  });
}
