// Plays every sound of a mix from one position, so that all are in step by construction. Only what is held here sounds:
// the page posts chunks of a window around the position, and says which to keep.
//
// To the page: {kind: "at" | "stopped" | "ended", frame, turn}, {kind: "heard", sound, frame}, {kind: "waiting", waiting},
// {kind: "spent", buffers}. turn: how many times the page had sent it elsewhere by then. From the page: the methods under
// "what the page says", by their names.

const FADE_S = 0.01; // from one sound to another, linear and equal-gain: 10 of the 20 ms that a switch may take
const SEAM_S = 0.005; // a loop's end fades into what stands before its start, so that its start is whole
const EDGE_S = 0.005; // where sound starts and stops
const MONITOR_S = 0.05; // the way of the monitor gain
const UP_DB_S = 6; // how fast a level comes up
const DOWN_DB_S = 60; // and goes down
const REPORTS_S = 0.04;
const BLOCK_FRAMES = 128; // what is asked for at a time

const amplitude = (db) => (db === -Infinity ? 0 : 10 ** (db / 20));

class Playback extends AudioWorkletProcessor {
  constructor({ processorOptions }) {
    super();
    const { frames, chunkFrames, sounds } = processorOptions;
    this.frames = frames;
    this.chunkFrames = chunkFrames;
    this.sounds = Array.from({ length: sounds }, () => ({
      chunks: new Map(), // number -> [left, right] or [mono] or null: silence
      weight: 0,
      from: 0,
      to: 0, // its share in the crossfade: now, and where that began and leads
      matched_db: 0,
      now_db: 0,
      heard: false,
      factors: new Float32Array(BLOCK_FRAMES), // what the next frames are multiplied by
    }));
    this.position = 0;
    this.loop = null; // {from, to}, in frames
    this.nextLoop = null; // the loop from the next silence on
    this.running = false;
    this.jump = null; // where to go once it is silent
    this.turn = 0;
    this.wanted = 0; // the sound asked for
    this.chosen = -1; // the sound that is heard, or faded to
    this.fading = 0; // frames of the crossfade that are left
    this.delivery = false; // true level, as delivered
    this.edge = 0; // 0 silent, 1 sounding
    this.monitor = { now: 0, to: 0, step: 0 };
    this.waiting = false;
    this.rested = true; // nothing has sounded since the last stop
    this.unreported = 0;
    this.fadeFrames = Math.round(FADE_S * sampleRate);
    this.edgeFrames = Math.round(EDGE_S * sampleRate);
    this.seamFrames = Math.round(SEAM_S * sampleRate);
    this.port.onmessage = ({ data }) => this[data.kind](data);
  }

  // What the page says.

  chunk({ sound, number, channels }) {
    this.sounds[sound].chunks.set(number, channels);
  }

  /** What sounds yet is spared, so that it can fade out: it goes with the next. */
  keep({ sounds, numbers }) {
    const kept = new Set(numbers);
    const sounding = this.edge > 0 ? this._reach(BLOCK_FRAMES) : [];
    const buffers = [];
    this.sounds.forEach((sound, place) => {
      const spared = sound.weight > 0 ? sounding : [];
      for (const [number, channels] of sound.chunks) {
        if ((sounds.includes(place) && kept.has(number)) || this._within(number, spared)) continue;
        sound.chunks.delete(number);
        for (const samples of channels ?? []) buffers.push(samples.buffer);
      }
    });
    // handed back for the page to forget, which frees them in time: what is detached instead stays until far later
    if (buffers.length) this.port.postMessage({ kind: "spent", buffers }, buffers);
  }

  play() {
    this.running = true;
  }

  pause() {
    this.running = false;
    if (this.edge === 0) this._post("stopped", this.jump ?? this.position);
  }

  seek({ frame, turn }) {
    this.turn = turn;
    if (this.edge > 0) this.jump = frame;
    else this.position = frame;
  }

  /** In a seam two places sound at once: a change there fades out first, and goes on from the same place. */
  repeat({ loop }) {
    const within = [this.loop, loop].some((one) => one && this.position < one.to && this.position >= one.to - this.seamFrames);
    this.nextLoop = loop;
    if (this.edge > 0 && within) this.jump ??= this.position;
    else this.loop = loop;
  }

  choose({ sound }) {
    this.wanted = sound;
  }

  match({ gains_db }) {
    this.sounds.forEach((sound, place) => (sound.matched_db = gains_db[place]));
  }

  level({ delivery }) {
    this.delivery = delivery;
  }

  volume({ gain_db }) {
    this.monitor.to = amplitude(gain_db);
    this.monitor.step = Math.abs(this.monitor.to - this.monitor.now) / (MONITOR_S * sampleRate);
    if (this.edge === 0) this.monitor.now = this.monitor.to;
  }

  // What is heard.

  process(_, [out]) {
    const count = out[0].length;
    if (this.edge === 0 && !this._begins()) return true;
    this._switch();
    const opens = this.running && this.jump === null && this._ready(count);
    this._weigh(count);
    this._play(out, count);
    this._shape(out, count, opens);
    if (this.edge === 0) this._silent();
    this._report(count);
    return true;
  }

  /** From silence: whether there is anything to play, and all it takes is held. */
  _begins() {
    this._arrive();
    if (!this.running) return false;
    this.chosen = this.wanted;
    this.fading = 0;
    this.sounds.forEach((sound, place) => {
      sound.weight = place === this.chosen ? 1 : 0;
      if (this.rested) sound.now_db = Math.min(this._goal_db(sound), sound.matched_db); // what is louder fades up
    });
    if (!this._ready(BLOCK_FRAMES)) return false;
    this.rested = false;
    this.monitor.now = this.monitor.to;
    return true;
  }

  /** Silent: a jump, or another loop, is taken up. */
  _arrive() {
    this.position = this.jump ?? this.position;
    this.jump = null;
    this.loop = this.nextLoop;
  }

  /** A crossfade begins as soon as what it leads to is held. */
  _switch() {
    if (this.wanted === this.chosen || !this._holds(this.sounds[this.wanted], this._reach(BLOCK_FRAMES))) return;
    this.chosen = this.wanted;
    this.fading = this.fadeFrames;
    this.sounds.forEach((sound, place) => {
      sound.from = sound.weight;
      sound.to = place === this.chosen ? 1 : 0;
    });
    this.port.postMessage({ kind: "heard", sound: this.chosen, frame: currentFrame });
  }

  _goal_db(sound) {
    return this.delivery ? 0 : sound.matched_db;
  }

  /** Stretches that the next frames come from: up to an edge further, so that there is always enough to fade out with. */
  _reach(count) {
    const ahead = this.position + count + this.edgeFrames + this.fadeFrames;
    const { loop } = this;
    if (!loop || this.position >= loop.to) return [[this.position, ahead]];
    const seam = this.seamFrames;
    const stretches = [[this.position, Math.min(ahead, loop.to)]];
    if (ahead > loop.to - seam) stretches.push([loop.from - seam, loop.from + (ahead - this.position)]);
    return stretches;
  }

  _within(number, stretches) {
    const first = number * this.chunkFrames;
    return stretches.some(([from, to]) => from < first + this.chunkFrames && to > first);
  }

  _holds(sound, stretches) {
    return stretches.every(([from, to]) => {
      const first = Math.max(0, from);
      const last = Math.min(to, this.frames) - 1;
      for (let number = Math.floor(first / this.chunkFrames); number * this.chunkFrames <= last; number++)
        if (!sound.chunks.has(number)) return false;
      return true;
    });
  }

  _ready(count) {
    const stretches = this._reach(count);
    const ready = this.sounds.every((sound) => !sound.weight || this._holds(sound, stretches));
    if (ready === this.waiting) {
      this.waiting = !ready;
      this.port.postMessage({ kind: "waiting", waiting: this.waiting });
    }
    return ready;
  }

  /** The factor of each sound for each of the next frames: its share in the crossfade, and its level. */
  _weigh(count) {
    const faded = Math.min(this.fading, count);
    for (const sound of this.sounds) {
      const before = amplitude(sound.now_db);
      const goal = this._goal_db(sound);
      const way = (goal > sound.now_db ? UP_DB_S : DOWN_DB_S) * (count / sampleRate);
      sound.now_db += Math.max(-way, Math.min(way, goal - sound.now_db));
      if (Math.abs(goal - sound.now_db) < 1e-9) sound.now_db = goal;
      const after = amplitude(sound.now_db);
      sound.heard = sound.weight > 0 || (faded > 0 && sound.to > 0);
      if (!sound.heard) continue;
      for (let k = 0; k < count; k++) {
        const left = this.fading - k - 1;
        const share =
          left >= 0
            ? sound.to + ((sound.from - sound.to) * left) / this.fadeFrames
            : this.fading
              ? sound.to
              : sound.weight;
        sound.factors[k] = share * (before === after ? after : before + ((after - before) * (k + 1)) / count);
      }
      if (faded)
        sound.weight =
          faded === this.fading
            ? sound.to
            : sound.to + ((sound.from - sound.to) * (this.fading - faded)) / this.fadeFrames;
    }
    this.fading -= faded;
  }

  /** The next frames of everything that has a factor, through loops and up to the end. */
  _play(out, count) {
    const seam = this.seamFrames;
    let done = 0;
    while (done < count && this.position < this.frames) {
      const loop = this.loop && this.position < this.loop.to ? this.loop : null;
      const turn = loop ? loop.to - seam : this.frames;
      const seamed = loop !== null && this.position >= turn;
      const piece = Math.min(count - done, (seamed ? loop.to : turn) - this.position);
      this._add(out, this.position, done, piece, (k) => (seamed ? (loop.to - this.position - k) / seam : 1), seamed);
      if (seamed)
        this._add(
          out,
          this.position - (loop.to - loop.from),
          done,
          piece,
          (k) => 1 - (loop.to - this.position - k) / seam,
          true,
        );
      this.position += piece;
      done += piece;
      if (loop && this.position === loop.to) this.position = loop.from;
    }
  }

  /** Adds `piece` frames of every sound from frame `position` on at `at` of the output. */
  _add(out, position, at, piece, share, shared) {
    for (const sound of this.sounds) {
      if (!sound.heard) continue;
      let k = Math.max(0, -position);
      while (k < piece) {
        const frame = position + k;
        const number = Math.floor(frame / this.chunkFrames);
        const within = frame - number * this.chunkFrames;
        const end = Math.min(piece, k + this.chunkFrames - within);
        const channels = sound.chunks.get(number);
        if (channels)
          for (let c = 0; c < out.length; c++) {
            const samples = channels[Math.min(c, channels.length - 1)];
            for (let i = k; i < end; i++) {
              const factor = sound.factors[at + i];
              out[c][at + i] += samples[within + i - k] * (shared ? factor * share(i) : factor);
            }
          }
        k = end;
      }
    }
  }

  /** Start, stop and monitor gain. */
  _shape(out, count, opens) {
    const step = 1 / this.edgeFrames;
    const { monitor } = this;
    for (let k = 0; k < count; k++) {
      this.edge = opens ? Math.min(1, this.edge + step) : Math.max(0, this.edge - step);
      if (monitor.now !== monitor.to)
        monitor.now =
          Math.abs(monitor.to - monitor.now) <= monitor.step
            ? monitor.to
            : monitor.now + Math.sign(monitor.to - monitor.now) * monitor.step;
      const gain = this.edge * monitor.now;
      for (const samples of out) samples[k] *= gain;
    }
    if (this.position >= this.frames) this.edge = 0;
  }

  /** What comes of having come to silence: a jump goes on by itself, a pause or an end is told. */
  _silent() {
    if (this.jump !== null && this.running) return;
    this._arrive();
    this.rested = !this.running || this.position >= this.frames;
    if (this.position >= this.frames) {
      this.running = false;
      this._post("ended", this.frames);
    } else if (!this.running) this._post("stopped", this.position);
  }

  _report(count) {
    this.unreported += count;
    if (this.unreported < REPORTS_S * sampleRate) return;
    this.unreported = 0;
    this._post("at", this.jump ?? this.position);
  }

  _post(kind, frame) {
    this.port.postMessage({ kind, frame, turn: this.turn });
  }
}

registerProcessor("playback", Playback);
