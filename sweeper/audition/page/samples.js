// Samples out of bytes, exactly: a WAV file's head, and interleaved samples as one array a channel.

const Samples = {
  /**
   * The head of a WAV, RF64 or BW64 file (EBU Tech 3285, 3306; ITU-R BS.2088). bytes: its first ones, at least up to the
   * samples. Returns {data_offset, channels, rate_hz, format}, format one of s16 s24 s32 f32 f64. Throws Error for anything else.
   */
  head(bytes) {
    const view = new DataView(bytes);
    const name = (at) => String.fromCharCode(...new Uint8Array(bytes, at, 4));
    if (view.byteLength < 12 || !["RIFF", "RF64", "BW64"].includes(name(0)) || name(8) !== "WAVE")
      throw new Error("this is no WAV file");
    let form = null;
    for (let at = 12; at + 8 <= view.byteLength;) {
      const size = view.getUint32(at + 4, true);
      if (name(at) === "data") {
        if (form === null) throw new Error("this WAV file does not say what its samples are");
        return { ...form, data_offset: at + 8 };
      }
      if (name(at) === "fmt ") form = Samples._form(view, at + 8, size);
      at += 8 + size + (size % 2);
    }
    throw new Error("the samples of this WAV file were not found where they should begin");
  },

  _form(view, at, size) {
    let tag = view.getUint16(at, true);
    if (tag === 0xfffe && size >= 40) tag = view.getUint16(at + 24, true);
    const bits = view.getUint16(at + 14, true);
    const format = { 1: { 16: "s16", 24: "s24", 32: "s32" }, 3: { 32: "f32", 64: "f64" } }[tag]?.[bits];
    if (!format) throw new Error(`this WAV file has samples of a kind that is not played (tag ${tag}, ${bits} bits)`);
    return { format, channels: view.getUint16(at + 2, true), rate_hz: view.getUint32(at + 4, true) };
  },

  width: { s16: 2, s24: 3, s32: 4, f32: 4, f64: 8 },

  _read: {
    s16: (view, at) => view.getInt16(at, true) / 2 ** 15,
    s24: (view, at) => (view.getUint8(at) | (view.getInt16(at + 1, true) << 8)) / 2 ** 23,
    s32: (view, at) => view.getInt32(at, true) / 2 ** 31,
    f32: (view, at) => view.getFloat32(at, true),
    f64: (view, at) => view.getFloat64(at, true),
  },

  /** Interleaved bytes times `gain` as one Float32Array a channel, of `count` frames, the first at `at`; the rest is silent. */
  apart(bytes, format, channels, count, { at = 0, gain = 1 } = {}) {
    const read = Samples._read[format];
    const width = Samples.width[format];
    const view = new DataView(bytes.buffer ?? bytes, bytes.byteOffset ?? 0, bytes.byteLength);
    const frames = Math.floor(view.byteLength / width / channels);
    return Array.from({ length: channels }, (_, channel) => {
      const samples = new Float32Array(count);
      for (let frame = 0; frame < frames; frame++)
        samples[at + frame] = gain * read(view, (frame * channels + channel) * width);
      return samples;
    });
  },

  /** The bytes that a Base64 text stands for. */
  bytes(text) {
    const letters = atob(text);
    const bytes = new Uint8Array(letters.length);
    for (let i = 0; i < letters.length; i++) bytes[i] = letters.charCodeAt(i);
    return bytes;
  },
};
