// Loudness of a stretch, from the K-weighted power of every 100 ms: ITU-R BS.1770-5 Annex 1, blocks of 400 ms that
// overlap by three quarters, both gates.

const CELL_S = 0.1;
const ABSOLUTE_GATE_LUFS = -70; // BS.1770-5 Annex 1
const RELATIVE_GATE_LU = -10; // BS.1770-5 Annex 1
const OFFSET_LU = -0.691; // BS.1770-5 Annex 1, equation 2

const Loudness = {
  /**
   * LUFS of cells `from` to before `to`; null where it is silent or shorter than a block. round: as it is heard when it goes
   * round and round, with the blocks that lie across the seam; else as if it were cut out.
   */
  integrated(power, from, to, round = false) {
    const cells = power.slice(Math.max(0, from), Math.max(0, to));
    const whole = cells.length < 4 ? [] : round ? [...cells, ...cells.slice(0, 3)] : cells;
    const blocks = [];
    for (let cell = 0; cell + 4 <= whole.length; cell++)
      blocks.push((whole[cell] + whole[cell + 1] + whole[cell + 2] + whole[cell + 3]) / 4);
    const lufs = (z) => OFFSET_LU + 10 * Math.log10(z);
    const mean = (list) => list.reduce((sum, z) => sum + z, 0) / list.length;
    const heard = blocks.filter((z) => z > 0 && lufs(z) > ABSOLUTE_GATE_LUFS);
    if (!heard.length) return null;
    const gate = lufs(mean(heard)) + RELATIVE_GATE_LU;
    return lufs(mean(heard.filter((z) => lufs(z) > gate)));
  },

  /**
   * Gains in dB that make all sounds equally loud from `from_s` to `to_s` of the mix: as loud as the quietest variant or
   * the mix there, and lowered together until none clips. {gains: {id: dB}}, or {why} where one has no loudness there.
   */
  matched(sounds, from_s, to_s, rate_hz) {
    const lufs = {};
    for (const sound of sounds) {
      const start_s = from_s + sound.offset_frames / rate_hz;
      const cells = [Math.round(start_s / CELL_S), Math.round((start_s + to_s - from_s) / CELL_S)];
      lufs[sound.id] = Loudness.integrated(sound.power_100ms, ...cells, true);
    }
    const silent = sounds.filter((sound) => lufs[sound.id] === null);
    if (silent.some((sound) => sound.kind !== "reference"))
      return { why: "The loop is silent, or shorter than the 400 ms that loudness needs." };
    const common = Math.min(...sounds.filter((s) => s.kind !== "reference").map((s) => lufs[s.id]));
    const gains = {};
    for (const sound of sounds) {
      const own = lufs[sound.id];
      gains[sound.id] = own === null ? sound.match_gain_db : common - own;
    }
    const over = Math.max(0, ...sounds.map((s) => (s.true_peak_dbtp ?? -Infinity) + gains[s.id]));
    for (const id of Object.keys(gains)) gains[id] -= over;
    return { gains };
  },
};
