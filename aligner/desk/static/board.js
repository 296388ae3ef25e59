// Boards are pictures that the server draws; a click tells which square was meant.

const FILES = "abcdefgh";

export function board(fen, last = "", flipped = false) {
  const image = document.createElement("img");
  image.className = "board";
  image.src = `board.svg?${new URLSearchParams({ fen, last, flipped: flipped ? "1" : "0" })}`;
  image.alt = `Position ${fen}`;
  image.width = image.height = 200;
  return image;
}

function square(image, event, flipped) {
  const box = image.getBoundingClientRect();
  const place = (at, size) => Math.min(7, Math.max(0, Math.floor((8 * at) / size)));
  const file = place(event.clientX - box.left, box.width);
  const row = place(event.clientY - box.top, box.height);
  return flipped ? FILES[7 - file] + (row + 1) : FILES[file] + (8 - row);
}

// A board on which a move is made by two clicks; `made` is told the squares, "e2e4".
export function playable(fen, made, flipped = false) {
  const image = board(fen, "", flipped);
  image.classList.add("playable");
  let from = "";
  image.addEventListener("click", (event) => {
    const here = square(image, event, flipped);
    if (from && from !== here) {
      made(from + here);
      from = "";
    } else {
      from = from === here ? "" : here;
    }
    image.dataset.from = from;
    image.title = from ? `from ${from}` : "";
  });
  return image;
}
