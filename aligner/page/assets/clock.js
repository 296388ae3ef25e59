// What time it is in the talk: the recording's time, or where there is none, the time of a silent clock.

/** A clock of its own for a talk without a recording; seconds. */
export class SilentClock extends EventTarget {
  #at = 0;
  #since = null;
  #rate = 1;

  constructor(end) {
    super();
    this.end = end;
  }

  get now() {
    const gone = this.#since === null ? 0 : ((performance.now() - this.#since) / 1000) * this.#rate;
    return Math.min(this.end, this.#at + gone);
  }

  get playing() {
    return this.#since !== null;
  }

  get rate() {
    return this.#rate;
  }

  set rate(rate) {
    this.#settle(this.now);
    this.#rate = rate;
  }

  play() {
    if (this.playing) return;
    if (this.#at >= this.end) this.#at = 0;
    this.#since = performance.now();
    this.dispatchEvent(new Event("change"));
  }

  pause() {
    if (!this.playing) return;
    this.#at = this.now;
    this.#since = null;
    this.dispatchEvent(new Event("change"));
  }

  seek(seconds) {
    this.#settle(Math.min(this.end, Math.max(0, seconds)));
    this.dispatchEvent(new Event("change"));
  }

  #settle(seconds) {
    this.#at = seconds;
    if (this.playing) this.#since = performance.now();
  }
}

/** The time of an audio or video element; seconds. */
export class MediaClock extends EventTarget {
  #media;
  #wanted = null;

  constructor(media, end) {
    super();
    this.#media = media;
    this.end = end;
    for (const name of ["play", "pause", "seeked", "ratechange", "ended"]) {
      media.addEventListener(name, () => this.dispatchEvent(new Event("change")));
    }
    media.addEventListener("seeked", () => (this.#wanted = null));
    media.addEventListener("loadedmetadata", () => {
      if (Number.isFinite(media.duration)) this.end = Math.max(this.end, media.duration);
      if (this.#wanted !== null) media.currentTime = this.#wanted;
      this.dispatchEvent(new Event("change"));
    });
  }

  get now() {
    return this.#wanted ?? this.#media.currentTime;
  }

  get playing() {
    return !this.#media.paused && !this.#media.ended;
  }

  get rate() {
    return this.#media.playbackRate;
  }

  set rate(rate) {
    this.#media.playbackRate = rate;
  }

  play() {
    // Refused play and a missing file are told by the element's own events.
    this.#media.play().catch(() => this.dispatchEvent(new Event("change")));
  }

  pause() {
    this.#media.pause();
  }

  seek(seconds) {
    // Until the recording has come there, the page already shows what is wanted.
    this.#wanted = Math.min(this.end, Math.max(0, seconds));
    if (this.#media.readyState > 0) this.#media.currentTime = this.#wanted;
    this.dispatchEvent(new Event("change"));
  }
}
