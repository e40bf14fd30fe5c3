// Where samples come from: parts of a WAV file from the server, or scripts that lie beside an exported page.

const HEAD_BYTES = 65536;

/** A sound that is served: parts of its file, by range. */
class ServedSound {
  constructor(sound) {
    this.sound = sound;
    this.head = null;
  }

  /** One Float32Array a channel: frames `first` to `first + count` of the file, silent outside it; null for silence. */
  async frames(first, count, signal) {
    const from = Math.max(0, first);
    const to = Math.min(first + count, this.sound.frames);
    if (to <= from) return null;
    this.head ??= this._opened();
    let head;
    try {
      head = await this.head;
    } catch (error) {
      this.head = null; // the next one asks again
      throw error;
    }
    const stride = Samples.width[head.format] * head.channels;
    const begin = head.data_offset + from * stride;
    const bytes = await this._part(begin, head.data_offset + to * stride, signal);
    if (bytes.byteLength !== (to - from) * stride) throw new Error("the server sent less than was asked for");
    return Samples.apart(bytes, head.format, head.channels, count, { at: from - first });
  }

  async _opened() {
    const head = Samples.head(await this._part(0, HEAD_BYTES));
    if (head.channels !== this.sound.channels) throw new Error("the file has other channels than the page was told");
    return head;
  }

  async _part(from, to, signal) {
    const answer = await fetch(this.sound.audio.url, { headers: { Range: `bytes=${from}-${to - 1}` }, signal }).catch(
      (error) => {
        throw signal?.aborted ? error : new Error("the audition is not served any more; start it again");
      },
    );
    if (answer.status !== 206) throw new Error(`the server answered ${answer.status} ${answer.statusText}`);
    return answer.arrayBuffer();
  }
}

/** A sound of an exported page: scripts of so many frames each, which call `auditionChunk`. */
class ExportedSound {
  constructor(sound) {
    this.sound = sound;
    this.recent = new Map(); // number -> promise of the channels
  }

  async frames(first, count) {
    const { frames, channels, audio } = this.sound;
    const from = Math.max(0, first);
    const to = Math.min(first + count, frames);
    if (to <= from) return null;
    const wanted = Array.from({ length: channels }, () => new Float32Array(count));
    for (let number = Math.floor(from / audio.chunk_frames); number * audio.chunk_frames < to; number++) {
      const start = number * audio.chunk_frames;
      const part = await this._chunk(number);
      const [low, high] = [Math.max(from, start), Math.min(to, start + audio.chunk_frames)];
      wanted.forEach((samples, channel) => samples.set(part[channel].subarray(low - start, high - start), low - first));
    }
    return wanted;
  }

  _chunk(number) {
    if (!this.recent.has(number)) {
      const { audio, channels, frames, id } = this.sound;
      const count = Math.min(audio.chunk_frames, frames - number * audio.chunk_frames);
      const part = ExportedSound.script(audio.chunks[number], id, number).then((text) => {
        const bytes = Samples.bytes(text);
        if (bytes.length !== count * channels * Samples.width[audio.format])
          throw new Error(`${audio.chunks[number]} is damaged: it has not the length that it should have`);
        // what passes full scale was turned down to fit
        return Samples.apart(bytes, audio.format, channels, count, { gain: 10 ** ((audio.gain_db ?? 0) / 20) });
      });
      part.catch(() => this.recent.delete(number));
      this.recent.set(number, part);
      if (this.recent.size > 2) this.recent.delete(this.recent.keys().next().value);
    }
    return this.recent.get(number);
  }

  /** The text that the script at `path` hands over. */
  static script(path, id, number) {
    return new Promise((resolve, reject) => {
      const element = document.createElement("script");
      const key = `${id} ${number}`;
      const done = (settle, value) => {
        element.remove();
        ExportedSound.awaited.delete(key);
        settle(value);
      };
      ExportedSound.awaited.set(key, (text) => done(resolve, text));
      element.onload = () => done(reject, new Error(`${path} does not hold what it should`));
      element.onerror = () => done(reject, new Error(`${path} is not beside the page`));
      element.src = path;
      document.head.append(element);
    });
  }
}

ExportedSound.awaited = new Map();

globalThis.auditionChunk = (id, number, text) => ExportedSound.awaited.get(`${id} ${number}`)?.(text);
