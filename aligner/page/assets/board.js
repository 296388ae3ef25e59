// The diagram: pieces, the last move, and the same position in words.

const SIDE = 45;
const NAMES = { k: "king", q: "queen", r: "rook", b: "bishop", n: "knight", p: "pawn" };
const SVG = "http://www.w3.org/2000/svg";

/** The pieces of a FEN by square, "e4" to letter. */
export function piecesOf(fen) {
  const found = new Map();
  fen.split(" ")[0].split("/").forEach((row, down) => {
    let file = 0;
    for (const sign of row) {
      if (sign >= "1" && sign <= "8") file += Number(sign);
      else found.set("abcdefgh"[file++] + (8 - down), sign);
    }
  });
  return found;
}

/** Where the pieces stand, in words: "White: king e1, ...". */
export function inWords(fen) {
  const sides = { White: [], Black: [] };
  for (const [square, letter] of piecesOf(fen)) {
    sides[letter < "a" ? "White" : "Black"].push(`${NAMES[letter.toLowerCase()]} ${square}`);
  }
  return Object.entries(sides).map(([side, men]) => `${side}: ${men.join(", ")}.`).join(" ");
}

function drawn(name, attributes) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  return element;
}

/** The diagram in the page; `show` draws a position on it. */
export class Board {
  #standing = new Map();
  #turned = false;
  #fen = "";
  #move = "";

  constructor(svg) {
    this.svg = svg;
    this.pieces = svg.querySelector("#pieces");
    this.trace = svg.querySelector("#trace");
    this.pieces.replaceChildren();
  }

  get turned() {
    return this.#turned;
  }

  /** Draws a position and the move that led to it ("" for none); a piece that moved slides. */
  show(fen, move, label) {
    const wanted = piecesOf(fen);
    const leaving = [...this.#standing].filter(([square, man]) => wanted.get(square) !== man.letter);
    for (const [square] of leaving) this.#standing.delete(square);
    for (const [square, letter] of wanted) {
      if (this.#standing.has(square)) continue;
      const from = leaving.findIndex(([, man]) => man.letter === letter);
      const man = from < 0 ? this.#made(letter) : leaving.splice(from, 1)[0][1];
      this.#standing.set(square, man);
      this.#put(man, square);
    }
    for (const [, man] of leaving) man.element.remove();
    this.#fen = fen;
    this.#move = move;
    this.#mark();
    this.svg.setAttribute("aria-label", label);
  }

  /** Turns the board round. */
  turn() {
    this.#turned = !this.#turned;
    const ranks = this.svg.querySelectorAll("#ranks text");
    const files = this.svg.querySelectorAll("#files text");
    for (let at = 0; at < 8; at++) {
      ranks[at].textContent = this.#turned ? at + 1 : 8 - at;
      files[at].textContent = "abcdefgh"[this.#turned ? 7 - at : at];
    }
    for (const [square, man] of this.#standing) this.#put(man, square);
    this.#mark();
  }

  #corner(square) {
    const file = "abcdefgh".indexOf(square[0]);
    const down = 8 - Number(square[1]);
    return this.#turned ? [(7 - file) * SIDE, (7 - down) * SIDE] : [file * SIDE, down * SIDE];
  }

  #made(letter) {
    const element = drawn("use", { href: `#piece-${letter}`, width: SIDE, height: SIDE });
    this.pieces.append(element);
    return { letter, element };
  }

  #put(man, square) {
    const [x, y] = this.#corner(square);
    man.element.dataset.square = square;
    man.element.style.transform = `translate(${x}px, ${y}px)`;
  }

  /** A dot where the move began, corners round the square where it ended. */
  #mark() {
    this.trace.replaceChildren();
    if (!this.#move) return;
    const [fromX, fromY] = this.#corner(this.#move.slice(0, 2));
    const [x, y] = this.#corner(this.#move.slice(2, 4));
    const [near, far, arm] = [2.5, SIDE - 2.5, 8];
    const corners = [[near, near, 1, 1], [far, near, -1, 1], [far, far, -1, -1], [near, far, 1, -1]];
    const path = corners.map(([a, b, h, v]) => `M${x + a + h * arm} ${y + b}H${x + a}V${y + b + v * arm}`);
    this.trace.append(
      drawn("circle", { cx: fromX + SIDE / 2, cy: fromY + SIDE / 2, r: 4 }),
      drawn("path", { d: path.join("") }),
    );
  }
}
