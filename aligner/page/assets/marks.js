// What is marked as being under discussion: the move in the words, the move in the tree, the time in the pictures.

const SEEN = 1 / 2400;

/** Moves the class "now" from one set of elements to another. */
class Mark {
  #marked = [];

  move(elements) {
    for (const element of this.#marked) {
      element.classList.remove("now");
      element.removeAttribute("aria-current");
    }
    this.#marked = elements;
    for (const element of elements) {
      element.classList.add("now");
      element.setAttribute("aria-current", "true");
    }
  }
}

/** The marks in words, tree and pictures. */
export class Marks {
  #said = new Map();
  #saidMark = new Mark();
  #moveMark = new Mark();
  #cursors;
  #share = -1;

  constructor(root) {
    for (const link of root.querySelectorAll("[data-spoken]")) {
      const spoken = Number(link.dataset.spoken);
      if (!this.#said.has(spoken)) this.#said.set(spoken, []);
      this.#said.get(spoken).push(link);
    }
    this.moves = root.querySelector("#moves");
    this.#cursors = [...root.querySelectorAll(".picture")].map((picture) => ({
      line: picture.querySelector(".cursor"),
      width: Number(picture.dataset.right) - Number(picture.dataset.left),
    }));
  }

  spoken(index) {
    this.#saidMark.move(this.#said.get(index) ?? []);
  }

  place(index) {
    const move = document.getElementById(`move-${index}`);
    this.#moveMark.move(move ? [move] : []);
    if (move && this.moves.scrollHeight > this.moves.clientHeight) {
      // Not scrollIntoView: that would scroll the page, too.
      const box = move.getBoundingClientRect();
      const around = this.moves.getBoundingClientRect();
      if (box.top < around.top + 30 || box.bottom > around.bottom - 30) {
        this.moves.scrollTop += box.top - around.top - around.height / 2;
      }
    }
  }

  /** Share of the talk that is over, 0 to 1; drawn only where it shows, for the picture of a long talk is large. */
  time(share) {
    if (Math.abs(share - this.#share) < SEEN) return;
    this.#share = share;
    for (const { line, width } of this.#cursors) line.setAttribute("transform", `translate(${share * width} 0)`);
  }
}

/** The share of the talk at which a picture was clicked, 0 to 1. */
export function shareAt(picture, event) {
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(picture.getScreenCTM().inverse());
  const left = Number(picture.dataset.left);
  return Math.min(1, Math.max(0, (point.x - left) / (Number(picture.dataset.right) - left)));
}
