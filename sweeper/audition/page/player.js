// Playback of one mix: an audio context at the mix's own rate, the worklet, and the window of chunks that it holds.

const CHUNK_FRAMES = 65536; // where the server sends any part
const MEMORY_BYTES = 128 * 2 ** 20; // what the samples of all sounds together may take
const AHEAD_S = { least: 3, most: 10 };
const AT_ONCE = 4; // requests under way
const AGAIN_MS = 2000; // after one that failed, while it plays
const SEAM_S = 0.005; // as in the worklet
const SHORTEST_LOOP_S = 0.1;

class Player {
  /** told: {moved(frame), stopped(), waiting(bool), troubled()}. */
  constructor(mix, sounds, served, told) {
    this.mix = mix;
    this.sounds = sounds;
    this.told = told;
    this.frames = Math.max(...sounds.filter((s) => s.kind !== "reference").map((s) => s.frames - s.offset_frames));
    this.sources = sounds.map((sound) => (served ? new ServedSound(sound) : new ExportedSound(sound)));
    this.chunkFrames = served ? CHUNK_FRAMES : Math.max(...sounds.map((sound) => sound.audio.chunk_frames));
    this.channels = Math.max(...sounds.map((sound) => sound.channels));
    this.position = 0;
    this.loop = null;
    this.chosen = 0;
    this.playing = false;
    this.held = sounds.map(() => new Set());
    this.coming = new Map(); // "sound number" -> AbortController
    this.failed = new Map(); // "sound number" -> {text, again_ms: not asked for before}
    this.broken = null;
    this.turn = 0; // how many times it was sent elsewhere: what the worklet says from before is old
    this.windowKey = "";
    this.timer = null;
  }

  /** Makes the context, suspended; nothing sounds before `play`. worklet: its source. */
  async open(worklet) {
    this.context = new AudioContext({ sampleRate: this.mix.rate_hz, latencyHint: "interactive" });
    await Player._module(this.context, worklet);
    this.node = new AudioWorkletNode(this.context, "playback", {
      numberOfInputs: 0,
      outputChannelCount: [this.channels],
      processorOptions: { frames: this.frames, chunkFrames: this.chunkFrames, sounds: this.sounds.length },
    });
    this.node.port.onmessage = ({ data }) => this[`_${data.kind}`]?.(data);
    this.node.onprocessorerror = () => {
      this.broken = "Playback broke off inside the browser. Load the page again.";
      this.told.troubled();
    };
    this.node.connect(this.context.destination);
    await this.context.suspend();
    this._fill();
  }

  /** From a Blob; a page from a file has no origin that a Blob could be of, and takes a data URL. */
  static async _module(context, source) {
    const plain = "data:text/javascript;charset=utf-8," + encodeURIComponent(source);
    const blob = URL.createObjectURL(new Blob([source], { type: "text/javascript" }));
    await context.audioWorklet.addModule(location.protocol === "file:" ? plain : blob);
    URL.revokeObjectURL(blob);
  }

  async play() {
    this.playing = true;
    this._ask_again();
    if (this.position >= this.frames) this.seek(this.loop ? this.loop.from : 0);
    this._fill();
    await this.context.resume();
    if (this.playing) this._say("play");
  }

  /** Fades out; the context is suspended once it is silent. */
  pause() {
    this.playing = false;
    this._say("pause");
  }

  seek(frame) {
    this.position = Math.max(0, Math.min(frame, this.frames - 1));
    this.turn += 1;
    this._say("seek", { frame: this.position, turn: this.turn });
    this._ask_again();
    this._fill();
  }

  /** {from, to} in frames, or null. Returns false where it is too short. */
  repeat(loop) {
    if (loop && loop.to - loop.from < SHORTEST_LOOP_S * this.mix.rate_hz) return false;
    this.loop = loop && { from: Math.max(0, loop.from), to: Math.min(loop.to, this.frames) };
    this._say("repeat", { loop: this.loop });
    this._fill();
    return true;
  }

  choose(place) {
    this.chosen = place;
    this._say("choose", { sound: place });
    this._ask_again();
    this._fill();
  }

  match(gains_db) {
    this._say("match", { gains_db });
  }

  level(delivery) {
    this._say("level", { delivery });
  }

  volume(gain_db) {
    this._say("volume", { gain_db });
  }

  async close() {
    clearTimeout(this.timer);
    for (const request of this.coming.values()) request.abort();
    this.coming.clear();
    this.closed = true;
    await this.context.close();
  }

  /** What could not be read of what is wanted now, in words; null where there is nothing. */
  get problem() {
    return this.broken ?? this.failed.values().next().value?.text ?? null;
  }

  /** How many seconds of every sound are held, and how many bytes that takes at most. */
  get window() {
    const frame_bytes = this._family().length * this.channels * 4;
    const rate = this.mix.rate_hz;
    const affordable_s = MEMORY_BYTES / frame_bytes / rate;
    const ahead_s = Math.max(AHEAD_S.least, Math.min(AHEAD_S.most, affordable_s));
    const chunks = Math.ceil((ahead_s * rate) / this.chunkFrames) + 2; // one begun, one at the loop's start
    return { ahead_s, bytes: chunks * this.chunkFrames * frame_bytes };
  }

  _say(kind, more = {}) {
    this.node.port.postMessage({ kind, ...more });
  }

  // What the worklet says.

  _at({ frame, turn }) {
    if (!this.playing || turn !== this.turn) return;
    this.position = frame;
    this.told.moved(frame);
    this._fill();
  }

  _stopped({ frame, turn }) {
    if (this.playing) return;
    this.context.suspend();
    if (turn === this.turn) {
      this.position = frame;
      this.told.moved(frame);
    }
    this.told.stopped();
  }

  _ended({ frame, turn }) {
    this.playing = false;
    this._stopped({ frame, turn });
  }

  _waiting({ waiting }) {
    this.told.waiting(waiting);
  }

  // What is held.

  /** Which sounds are held: previews only beside the one that they are of. */
  _family() {
    const chosen = this.sounds[this.chosen];
    const of = chosen.kind === "preview" ? chosen.of : chosen.id;
    return this.sounds
      .map((_, place) => place)
      .filter((place) => {
        const sound = this.sounds[place];
        return sound.kind !== "preview" || sound.of === of;
      });
  }

  /** Numbers of the chunks to hold, in the order in which they will sound. */
  _numbers() {
    const ahead = Math.ceil(this.window.ahead_s * this.mix.rate_hz);
    const numbers = new Set();
    const add = (from, to) => {
      const first = Math.floor(Math.max(0, from) / this.chunkFrames);
      for (let number = first; number * this.chunkFrames < Math.min(to, this.frames); number++) numbers.add(number);
    };
    const { position, loop } = this;
    if (loop && position < loop.to) {
      const rest = Math.min(position + ahead, loop.to);
      add(position, rest);
      const start = loop.from - Math.ceil(SEAM_S * this.mix.rate_hz);
      add(start, Math.min(loop.to, loop.from + Math.max(this.chunkFrames, ahead - (rest - position))));
    } else add(position, position + ahead);
    return [...numbers];
  }

  /** Asks for what is missing, nearest first, and lets go of what is not wanted any more. */
  _fill() {
    if (!this.node || this.closed) return;
    const family = this._family();
    const numbers = this._numbers();
    const key = JSON.stringify([family, numbers]);
    if (key !== this.windowKey) {
      this.windowKey = key;
      this._let_go(family, numbers);
    }
    const places = [this.chosen, ...family.filter((place) => place !== this.chosen)];
    for (const number of numbers)
      for (const place of places) {
        if (this.coming.size >= AT_ONCE) return;
        if (!this.held[place].has(number) && this._may_ask(`${place} ${number}`)) this._get(place, number);
      }
  }

  _may_ask(key) {
    return !this.coming.has(key) && performance.now() >= (this.failed.get(key)?.again_ms ?? 0);
  }

  /** What failed is asked for at once when something is done. */
  _ask_again() {
    for (const failure of this.failed.values()) failure.again_ms = 0;
  }

  _let_go(family, numbers) {
    const wanted = new Set(numbers);
    this._say("keep", { sounds: family, numbers });
    this.held.forEach((held, place) => {
      for (const number of held) if (!family.includes(place) || !wanted.has(number)) held.delete(number);
    });
    const unwanted = (key) => {
      const [place, number] = key.split(" ").map(Number);
      return !family.includes(place) || !wanted.has(number);
    };
    for (const [key, request] of [...this.coming].filter(([each]) => unwanted(each))) {
      request.abort();
      this.coming.delete(key);
    }
    this._forget_failures(unwanted);
  }

  _forget_failures(gone) {
    const keys = [...this.failed.keys()].filter(gone);
    for (const key of keys) this.failed.delete(key);
    if (keys.length) this.told.troubled();
  }

  async _get(place, number) {
    const key = `${place} ${number}`;
    const request = new AbortController();
    this.coming.set(key, request);
    const { offset_frames } = this.sounds[place];
    const first = number * this.chunkFrames + offset_frames;
    try {
      const channels = await this.sources[place].frames(first, this.chunkFrames, request.signal);
      if (request.signal.aborted || this.closed) return;
      this._say_chunk(place, number, channels);
      this.held[place].add(number);
      this.coming.delete(key);
      this._forget_failures((each) => each === key);
      this._fill();
    } catch (error) {
      if (request.signal.aborted || this.closed) return;
      this.coming.delete(key);
      const text = `${this.sounds[place].name} could not be read: ${error.message}.`;
      this.failed.set(key, { text, again_ms: performance.now() + AGAIN_MS });
      this.told.troubled();
      clearTimeout(this.timer);
      // only while it plays: what is paused stays idle, and asks again at the next key
      if (this.playing) this.timer = setTimeout(() => this._fill(), AGAIN_MS);
    }
  }

  _say_chunk(sound, number, channels) {
    const buffers = channels?.map((samples) => samples.buffer) ?? [];
    this.node.port.postMessage({ kind: "chunk", sound, number, channels }, buffers);
  }
}
