// Third octaves against the mix, at matched level; goals and limits.

const THIRDS_HZ = [
  20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150,
  4000, 5000, 6300, 8000, 10000, 12500, 16000, 20000,
];
const MOST_DB = 12; // what differs by more, as above a codec's low-pass, ends at the edge
const TONE = { wide: 410, high: 170, left: 42, base: 146 }; // as wide as the panel is at least: letters are never smaller

const Tone = {
  /** A bar for each third of an octave; the numbers stand in the table of numbers. */
  picture(differences) {
    const given = differences.filter((value) => value !== null);
    const span = Math.min(MOST_DB, Math.max(3, Math.ceil(Math.max(...given.map(Math.abs), 0))));
    const middle = TONE.base / 2 + 4;
    const step = (TONE.wide - TONE.left) / THIRDS_HZ.length;
    const y = (db) => middle - (Math.max(-span, Math.min(span, db)) / span) * (middle - 10);
    const text = (x, at, words, anchor = "middle") => Make.svg("text", { x, y: at, "text-anchor": anchor }, words);
    const lines = [-span, -span / 2, 0, span / 2, span].map((db) =>
      Make.svg("path", { class: db ? "grid" : "zero", d: `M${TONE.left} ${y(db).toFixed(1)}H${TONE.wide}` }),
    );
    const bars = differences.map((db, i) => {
      if (db === null) return null;
      const [top, bottom] = db > 0 ? [y(db), middle] : [middle, y(db)];
      return Make.svg("rect", {
        class: db > 0 ? "more" : "less-of",
        x: (TONE.left + i * step + 1).toFixed(1),
        width: (step - 2).toFixed(1),
        y: top.toFixed(1),
        height: Math.max(0.75, bottom - top).toFixed(2),
      });
    });
    const marks = [100, 1000, 10000].map((hz) =>
      text(
        TONE.left + (THIRDS_HZ.indexOf(hz) + 0.5) * step,
        TONE.high - 4,
        hz < 1000 ? `${hz} Hz` : `${hz / 1000} kHz`,
      ),
    );
    const levels = [-span, 0, span].map((db) =>
      text(TONE.left - 8, y(db) + 5, db ? `${Make.signed(db, 0)}` : "0 dB", "end"),
    );
    const [low, high] = [Math.min(...given, 0), Math.max(...given, 0)];
    return Make.svg(
      "svg",
      {
        class: "tone",
        viewBox: `0 0 ${TONE.wide} ${TONE.high}`,
        role: "img",
        "aria-label": `thirds of an octave against the mix: from ${Make.signed(low)} to ${Make.signed(high)} dB`,
      },
      lines,
      bars,
      marks,
      levels,
    );
  },
};

class LookPanel {
  constructor(desk) {
    this.desk = desk;
    this.name = "look";
    this.topics = "mix names chosen level";
  }

  draw(root) {
    const { desk } = this;
    const sound = desk.sounds[desk.chosen];
    const thirds = sound.thirds_difference_db;
    root.replaceChildren(
      Make.html("h2", {}, desk.label(desk.chosen), sound.rank ? Make.html("small", {}, ` rank ${sound.rank}`) : null),
      ...[sound.why, sound.note].filter(Boolean).map((text) => Make.html("p", { class: "why" }, text)),
      Make.html("h3", {}, "Tone against the mix"),
      thirds
        ? Tone.picture(thirds)
        : Make.html("p", {}, sound.kind === "mix" ? "This is the mix." : "Not told for this sound."),
      ...this._goals(sound),
      ...this._preview(sound),
      ...this._playback(sound),
      ...this._settings(sound),
    );
  }

  _goals(sound) {
    const signs = new Map([
      [true, ["good", "kept", "✓"]],
      [false, ["bad", "missed", "✗"]],
      [null, ["open", "not judged", "–"]],
    ]);
    const row = (good, text, ...more) => {
      const [kind, word, sign] = signs.get(good ?? null);
      return Make.html(
        "li",
        { class: kind },
        Make.html("span", { class: "sign", role: "img", "aria-label": word }, sign),
        Make.html("span", {}, Make.minus(text)),
        Make.html("span", { class: "off" }, Make.minus(more.filter(Boolean).join(", "))),
      );
    };
    const list = (title, rows) =>
      rows.length ? [Make.html("h3", {}, title), Make.html("ul", { class: "goals" }, rows)] : [];
    return [
      ...list(
        "Targets",
        (sound.targets ?? []).map(({ text, met, off, ending, why }) => row(met, text, off, ending, why)),
      ),
      ...list(
        "Limits",
        (sound.limits ?? []).map(({ text, kept, margin }) => row(kept, text, margin)),
      ),
    ];
  }

  _preview({ preview }) {
    if (!preview) return [];
    const { codec, bitrate_kbps, overshoot_dbtp, rise_db, service } = preview;
    const how = codec ? `${codec}${bitrate_kbps ? `, ${Math.round(bitrate_kbps)} kbit/s` : ""}` : "";
    const known = (value) => value !== null && value !== undefined;
    const over = known(overshoot_dbtp);
    return [
      Make.html("h3", {}, "Playback preview"),
      Make.html("p", {}, how),
      over
        ? Make.html(
            "p",
            { class: overshoot_dbtp > 0 ? "bad" : "good" },
            overshoot_dbtp > 0
              ? `true peak ${overshoot_dbtp.toFixed(2)} dB over full scale`
              : "true peak not over full scale",
          )
        : "",
      service ? Make.html("p", {}, `normalised playback: ${Make.minus(service)}`) : "",
      known(rise_db) ? Make.html("p", {}, `true peak ${Make.signed(rise_db, 2)} dB against the variant`) : "",
    ];
  }

  /** What players that normalise do to it. */
  _playback({ playback }) {
    if (!playback?.length) return [];
    const rows = playback.map(({ level_lufs, use, document, gain_db, true_peak_dbtp, held_back_db }) =>
      Make.html(
        "tr",
        { title: [use, document].filter(Boolean).join(", ") },
        Make.html("th", { scope: "row" }, `${Make.number(level_lufs, 0)} LUFS`),
        Make.html("td", {}, `${Make.signed(gain_db ?? 0)} dB`),
        Make.html("td", {}, true_peak_dbtp === null ? "" : `${Make.number(true_peak_dbtp)} dBTP`),
        Make.html("td", {}, held_back_db ? `held back ${Make.number(held_back_db)} dB` : ""),
      ),
    );
    return [Make.html("details", {}, Make.html("summary", {}, "normalised playback"), Make.html("table", {}, rows))];
  }

  _settings({ settings }) {
    if (!settings?.length) return [];
    return [
      Make.html(
        "details",
        {},
        Make.html("summary", {}, "settings"),
        Make.html(
          "table",
          {},
          settings.map(([label, text]) =>
            Make.html("tr", {}, Make.html("th", { scope: "row" }, label), Make.html("td", {}, text)),
          ),
        ),
      ),
    ];
  }
}
