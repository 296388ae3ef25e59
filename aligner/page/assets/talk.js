// The talk as the page holds it: positions, moments, words. Times are milliseconds.

/** Index of the last entry that is not after a time, -1 where all are; the times never fall. */
export function lastBefore(times, time) {
  let low = 0;
  let high = times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle] <= time) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

/** m:ss, or h:mm:ss from one hour on. */
export function clockText(milliseconds) {
  const seconds = Math.max(0, Math.floor(milliseconds / 1000));
  const two = (number) => String(number).padStart(2, "0");
  const hours = Math.floor(seconds / 3600);
  const minutes = Math.floor(seconds / 60) % 60;
  return hours ? `${hours}:${two(minutes)}:${two(seconds % 60)}` : `${minutes}:${two(seconds % 60)}`;
}

/** The talk from the JSON text in the page. */
export function readTalk(text) {
  const plain = JSON.parse(text);
  const places = plain.places.map(([parent, number, san, uci, fen, depth, ...times]) => ({
    parent, number, san, uci, fen, depth, times, below: [],
  }));
  places.forEach((place, index) => {
    if (place.parent >= 0) places[place.parent].below.push(index);
  });
  for (const place of places) place.below.sort((one, other) => places[one].depth - places[other].depth);
  let time = 0;
  return {
    end: plain.end,
    places,
    wordTimes: Float64Array.from(plain.words, (difference) => (time += difference)),
    paragraphs: plain.paragraphs,
    spoken: plain.spoken.map(([start, ...spots]) => ({ start, places: spots })),
    moments: plain.moments.map(([at, place, spoken]) => ({ time: at, place, spoken })),
    momentTimes: plain.moments.map(([at]) => at),
    errata: plain.errata.map(([at, said, message]) => ({ time: at, said, message })),
    errataTimes: plain.errata.map(([at]) => at),
    pgn: plain.pgn,
  };
}

/** "13.Bg5", or "the start". */
export function nameOf(place) {
  return place.number ? place.number + place.san : "the start";
}
