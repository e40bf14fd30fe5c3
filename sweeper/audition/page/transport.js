// The line of playback: play, where it is, loop, level, monitor gain, names.

class Transport {
  constructor(desk, root, monitor) {
    this.desk = desk;
    const button = (key, act) =>
      Make.html("button", { type: "button", onclick: act }, Make.key(key), Make.html("span"));
    this.play = button("Space", () => desk.toggle());
    this.play.classList.add("play");
    this.time = Make.html("output", { class: "time", "aria-label": "position" });
    this.loop = button("l", () => desk.toggle_loop());
    this.match = button("o", () => desk.toggle_match());
    this.level = button("v", () => desk.toggle_delivery());
    this.level.classList.add("level");
    this.blind = button("b", () => desk.toggle_blind());
    this.choice = button("c", () => desk.tell("session", "choice"));
    this.choice.lastChild.textContent = "forced choice";
    this.rank = button("r", () => desk.tell("session", "ranking"));
    this.rank.lastChild.textContent = "rank";
    this.slider = Make.html("input", {
      type: "range",
      min: LEAST_DB,
      max: 0,
      step: 1,
      "aria-label": "monitor gain, dB",
      oninput: () => desk.set_volume(Number(this.slider.value)),
    });
    this.gain = Make.html("output", { class: "monitor-gain" });
    root.append(
      this.play,
      this.time,
      this.loop,
      this.match,
      this.level,
      Make.html("span", { class: "push" }),
      this.blind,
      this.choice,
      this.rank,
    );
    monitor.append(Make.key("− +"), Make.html("span", {}, "monitor"), this.slider, this.gain);
    desk.watch("mix playing", () => this._playing());
    desk.watch("mix position", () => this._position());
    desk.watch("mix loop level names chosen", () => this._states());
    desk.watch("mix volume", () => this._volume());
  }

  _playing() {
    const { playing, waiting } = this.desk;
    this.play.lastChild.textContent = playing ? (waiting ? "waits" : "pause") : "play";
    this.play.setAttribute("aria-pressed", String(playing));
    this.play.classList.toggle("waits", playing && waiting);
  }

  _position() {
    this.time.textContent = `${Make.time(this.desk.position_s)} / ${Make.time(this.desk.length_s, 0)}`;
  }

  _states() {
    const { desk } = this;
    const state = (button, on, text) => {
      button.setAttribute("aria-pressed", String(on));
      button.lastChild.textContent = text;
    };
    state(this.loop, desk.looping, desk.looping ? `loop ${Make.time(desk.loop.to_s - desk.loop.from_s)}` : "loop");
    state(this.match, desk.matching_loop, desk.matching_loop ? "matched over loop" : "match over loop");
    state(
      this.level,
      desk.delivery,
      desk.hidden ? "matched" : desk.level_words(desk.chosen).replace(" than matched", ""),
    );
    this.level.disabled = desk.hidden;
    state(this.blind, desk.blind !== null, desk.blind ? "reveal" : "blind");
    for (const button of [this.blind, this.choice, this.rank]) button.disabled = desk.session !== null;
  }

  _volume() {
    this.slider.value = String(this.desk.monitor_db);
    this.gain.textContent = `${Make.number(this.desk.monitor_db, 0)} dB`;
  }
}
