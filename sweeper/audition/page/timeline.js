// Time from left to right: waveform with overs, loudness, attenuation; where it plays and what is looped.

const WIDE = 1200;
const SHORT_TERM_S = 3; // EBU Tech 3341: each value is of the 3 s that begin there, and drawn in their middle
const LOUD_SPAN_LU = 18; // how much of loudness is in the picture

class Timeline {
  constructor(desk, root) {
    this.desk = desk;
    this.root = root;
    this.pictures = Make.html("div", { class: "pictures" });
    this.shade = Make.html("div", { class: "loop-shade", hidden: true });
    this.head = Make.html("div", { class: "playhead" });
    this.stack = Make.html(
      "div",
      {
        class: "stack",
        tabindex: 0,
        role: "slider",
        "aria-label": "position",
        onpointerdown: (event) => this._press(event),
        onkeydown: (event) => this._key(event),
      },
      this.pictures,
      this.shade,
      this.head,
    );
    this.caption = Make.html("div", { class: "caption" });
    root.append(this.caption, this.stack);
    desk.watch("mix names chosen level", () => this.draw());
    desk.watch("position mix", () => this.place());
    desk.watch("loop mix", () => this._shade());
  }

  /** Whose pictures are shown: the mix's own while names are hidden, as shapes would give variants away. */
  get subject() {
    const { desk } = this;
    if (!desk.hidden) return desk.sounds[desk.chosen];
    return desk.sounds.find((sound) => sound.kind === "mix") ?? null;
  }

  draw() {
    const { desk, subject } = this;
    const mix = desk.sounds.find((sound) => sound.kind === "mix");
    this.pictures.replaceChildren();
    if (!subject) return this.caption.replaceChildren("names hidden");
    const gain_db = desk.gains_db[desk.sounds.indexOf(subject)];
    this.pictures.append(this._wave(subject, mix), this._loudness(subject, mix, desk.hidden ? 0 : gain_db));
    if (subject.attenuation) this.pictures.append(this._attenuation(subject.attenuation));
    this.caption.replaceChildren(...this._caption(subject));
    return undefined;
  }

  _caption(subject) {
    if (this.desk.hidden) return ["names hidden: the picture is of the mix, whatever plays"];
    const overs = subject.overs_s.length;
    return [
      Make.html("strong", {}, this.desk.label(this.desk.chosen)),
      " ",
      Make.html("span", { class: "key wave-key" }, "waveform"),
      " ",
      Make.html("span", { class: "key loud-key" }, "short-term loudness, matched"),
      " ",
      subject.kind === "mix" ? null : Make.html("span", { class: "key mix-key" }, "mix"),
      " ",
      subject.attenuation ? Make.html("span", { class: "key less-key" }, "attenuation") : null,
      " ",
      overs
        ? Make.html("span", { class: "key over-key" }, `${overs} ${overs === 1 ? "place" : "places"} over full scale`)
        : null,
    ].filter(Boolean);
  }

  _x(sound, file_s) {
    return ((file_s - sound.offset_frames / this.desk.mix.rate_hz) / this.desk.length_s) * WIDE;
  }

  _picture(name, high, label, ...children) {
    return Make.svg(
      "svg",
      {
        class: name,
        viewBox: `0 0 ${WIDE} ${high}`,
        preserveAspectRatio: "none",
        role: "img",
        "aria-label": label,
      },
      children,
    );
  }

  _wave(sound, mix) {
    const { rate_hz } = this.desk.mix;
    const outline = (of, name) => {
      const { columns, low, high } = of.waveform;
      const x = (i) => this._x(of, ((i + 0.5) / columns) * (of.frames / rate_hz)).toFixed(1);
      const y = (value) => (50 - 48 * Math.max(-1.04, Math.min(1.04, value))).toFixed(1);
      const upper = high.map((value, i) => `${x(i)},${y(value)}`);
      const lower = low.map((value, i) => `${x(i)},${y(value)}`).reverse();
      return Make.svg("polygon", { class: name, points: [...upper, ...lower].join(" ") });
    };
    const overs = sound.overs_s.map((s) =>
      Make.svg("path", { class: "over", d: `M${this._x(sound, s).toFixed(1)} 0v12` }),
    );
    const full = Make.svg("path", { class: "scale", d: `M0 2H${WIDE}M0 98H${WIDE}` });
    const own = outline(sound, "wave");
    return this._picture(
      "waveform",
      100,
      "waveform",
      full,
      own,
      mix && mix !== sound ? outline(mix, "mix-wave") : null,
      overs,
    );
  }

  _loudness(sound, mix, gain_db) {
    const { desk } = this;
    const mix_gain_db = mix ? desk.gains_db[desk.sounds.indexOf(mix)] : 0;
    const heard = (of, gain) => of.short_term.lufs.map((lufs) => (lufs === null ? null : lufs + gain));
    const lists = [heard(sound, gain_db), ...(mix && mix !== sound ? [heard(mix, desk.hidden ? 0 : mix_gain_db)] : [])];
    const top = Math.max(-60, ...lists.flat().filter((lufs) => lufs !== null)) + 1;
    const line = (of, list, name) => {
      let pen = "M";
      const points = list.map((lufs, i) => {
        if (lufs === null) {
          pen = "M";
          return "";
        }
        const y = Math.min(60, ((top - lufs) / LOUD_SPAN_LU) * 60);
        const point = `${pen}${this._x(of, i * of.short_term.step_s + SHORT_TERM_S / 2).toFixed(1)} ${y.toFixed(1)}`;
        pen = "L";
        return point;
      });
      return Make.svg("path", { class: name, d: points.join("") });
    };
    const tenths = [];
    for (let lufs = Math.floor(top / 6) * 6; lufs > top - 0.8 * LOUD_SPAN_LU; lufs -= 6)
      // below there is no room for its letters
      tenths.push(((top - lufs) / LOUD_SPAN_LU) * 60);
    const grid = Make.svg("path", { class: "scale", d: tenths.map((y) => `M0 ${y.toFixed(1)}H${WIDE}`).join("") });
    const others = lists.length > 1 ? [line(mix, lists[1], "mix-line")] : [];
    const picture = this._picture(
      "loudness",
      60,
      "short-term loudness",
      grid,
      ...others,
      line(sound, lists[0], "loud-line"),
    );
    const words = tenths.map((y, i) =>
      Make.html(
        "span",
        { class: "tick", style: `top:${(y / 60) * 100}%` },
        `${Make.number(Math.floor(top / 6) * 6 - 6 * i, 0)}${i ? "" : " LUFS"}`,
      ),
    );
    return Make.html("div", { class: "with-ticks" }, picture, ...words);
  }

  _attenuation({ step_s, db, from_s = 0 }) {
    const most = Math.max(6, ...db.filter((value) => value !== null));
    const x = (i) => (((from_s + i * step_s) / this.desk.length_s) * WIDE).toFixed(1);
    const points = db.map((value, i) => `${x(i)},${(((value ?? 0) / most) * 36).toFixed(1)}`);
    const shape = Make.svg("polygon", {
      class: "less",
      points: [`${x(0)},0`, ...points, `${x(db.length - 1)},0`].join(" "),
    });
    const picture = this._picture("attenuation", 40, `attenuation, down to ${most.toFixed(0)} dB`, shape);
    const tick = Make.html("span", { class: "tick", style: "top:90%" }, `${Make.number(-most, 0)} dB`);
    return Make.html("div", { class: "with-ticks" }, picture, tick);
  }

  place() {
    const { position_s, length_s } = this.desk;
    this.head.style.left = `${(position_s / length_s) * 100}%`;
    this.stack.setAttribute("aria-valuemin", 0);
    this.stack.setAttribute("aria-valuemax", length_s.toFixed(1));
    this.stack.setAttribute("aria-valuenow", position_s.toFixed(1));
    this.stack.setAttribute("aria-valuetext", Make.time(position_s));
  }

  _shade() {
    const { loop, looping, length_s } = this.desk;
    this.shade.hidden = !loop;
    if (!loop) return;
    this.shade.classList.toggle("off", !looping);
    this.shade.style.left = `${(loop.from_s / length_s) * 100}%`;
    this.shade.style.width = `${((loop.to_s - loop.from_s) / length_s) * 100}%`;
  }

  /** A click goes there; dragging loops what is dragged over. */
  _press(event) {
    const box = this.stack.getBoundingClientRect();
    const time = (e) => Math.max(0, Math.min(1, (e.clientX - box.left) / box.width)) * this.desk.length_s;
    const from_s = time(event);
    const dragged = (e) => Math.abs(e.clientX - event.clientX) > 4;
    const up = (e) => {
      removeEventListener("pointerup", up);
      if (!dragged(e)) return this.desk.seek(from_s);
      return this.desk.set_loop({ from_s: Math.min(from_s, time(e)), to_s: Math.max(from_s, time(e)) });
    };
    addEventListener("pointerup", up);
    event.preventDefault();
  }

  /** As a slider by itself; the page's own keys do the same. */
  _key(event) {
    const to = { PageUp: 30, PageDown: -30 }[event.key];
    if (to === undefined) return;
    event.preventDefault();
    this.desk.nudge(to);
  }
}
