// What the page knows and what can be done with it. Everything on screen watches it; names go out through `label` only, so
// that a hidden one cannot slip.

const LEAST_DB = -60;
const START_DB = -20; // quiet

/** A, B ... Z, AA, AB ... */
function letters(place) {
  const last = String.fromCharCode(65 + (place % 26));
  return place < 26 ? last : letters(Math.floor(place / 26) - 1) + last;
}

class Desk {
  constructor(manifest, worklet) {
    this.manifest = manifest;
    this.worklet = worklet;
    this.served = manifest.mode === "served";
    this.watchers = [];
    this.monitor_db = START_DB;
    this.saving = new Saving(manifest.run, this.served, {
      changed: () => this.tell("picks"),
      state: (state) => this.tell("saved", state),
    });
    this.ready = false; // nothing can be done before
    this._clear(manifest.mixes[0]);
  }

  watch(topics, seen) {
    this.watchers.push([topics.split(" "), seen]);
  }

  tell(topic, more) {
    for (const [topics, seen] of this.watchers) if (topics.includes(topic)) seen(more, topic);
  }

  /** For the screen reader, and for the eye where something is refused. Never with a name that `label` hides. */
  say(text) {
    this.tell("said", text);
  }

  _clear(mix) {
    this.mix = mix;
    this.sounds = mix.sounds;
    this.shown = mix.sounds.map((_, place) => place);
    this.chosen = 0;
    this.before = 0;
    this.loop = null; // {from_s, to_s}
    this.looping = false;
    this.matching_loop = false;
    this.gains_db = mix.sounds.map((sound) => sound.match_gain_db);
    this.delivery = false;
    this.blind = null; // {touched: what was written since, as keys}
    this.session = null; // a forced choice or a ranking under way
    this.playing = false;
    this.waiting = false;
    this.position_s = 0;
  }

  async open() {
    await this.saving.open();
    await this._open();
  }

  async _open() {
    const { mix, served } = this;
    this.player = new Player(mix, mix.sounds, served, {
      moved: (frame) => {
        this.position_s = frame / mix.rate_hz;
        this.tell("position");
      },
      stopped: () => this._stopped(),
      waiting: (waiting) => {
        this.waiting = waiting;
        this.tell("playing");
      },
      troubled: () => this._trouble(),
    });
    this.length_s = this.player.frames / mix.rate_hz;
    await this.player.open(this.worklet);
    this.player.volume(this.monitor_db);
    this.player.match(this.gains_db);
    this.ready = true;
    this.tell("mix");
  }

  async to_mix(number) {
    this.ready = false;
    await this.player.close();
    this._clear(this.manifest.mixes.find((mix) => mix.number === number));
    await this._open();
    this.say(`mix ${this.mix.name}`);
  }

  // Names.

  get hidden() {
    return this.blind !== null || this.session !== null;
  }

  /** What a sound is called on screen and by the screen reader. */
  label(place) {
    if (this.session) return this.session.label(place);
    if (this.blind) return letters(this.shown.indexOf(place));
    return this.sounds[place].name;
  }

  // Playing.

  async toggle() {
    if (this.playing) {
      this.playing = false;
      this.player.pause();
    } else {
      this.playing = true;
      this.tell("playing");
      await this.player.play();
    }
    this.tell("playing");
  }

  _stopped() {
    this.playing = false;
    this.waiting = false;
    this.tell("playing");
  }

  choose(place) {
    if (place === undefined || place === this.chosen) return;
    this.before = this.chosen;
    this._choose(place);
    if (!this.session) this.say(`${this.label(place)}${this.hidden ? "" : `, ${this.level_words(place)}`}`);
  }

  _choose(place) {
    this.chosen = place;
    this.player.choose(place);
    this.tell("chosen");
  }

  /** Back and forth between the last two. */
  flip() {
    this.choose(this.before);
  }

  step(by) {
    const at = this.shown.indexOf(this.chosen);
    this.choose(this.shown[(at + by + this.shown.length) % this.shown.length]);
  }

  seek(seconds) {
    const within = Math.max(0, Math.min(seconds, this.length_s));
    this.position_s = within;
    this.player.seek(Math.round(within * this.mix.rate_hz));
    this.tell("position");
  }

  nudge(seconds) {
    this.seek(this.position_s + seconds);
  }

  home() {
    this.seek(this.looping ? this.loop.from_s : 0);
  }

  // Loops.

  /** null: no loop. */
  set_loop(loop) {
    const frames = loop && {
      from: Math.round(loop.from_s * this.mix.rate_hz),
      to: Math.round(loop.to_s * this.mix.rate_hz),
    };
    if (!this.player.repeat(frames)) return this.say("a loop lasts 0.1 s at least");
    if (loop) this.loop = loop;
    this.looping = loop !== null;
    if (loop && (this.position_s < loop.from_s || this.position_s >= loop.to_s)) this.seek(loop.from_s);
    if (this.matching_loop) this._match();
    this.tell("loop");
    this.say(loop ? `loop ${Make.time(loop.from_s)} to ${Make.time(loop.to_s)}` : "loop off");
  }

  toggle_loop() {
    if (this.looping) this.set_loop(null);
    else this.set_loop(this.loop ?? { from_s: 0, to_s: this.length_s });
  }

  loop_from() {
    const to_s = this.loop && this.loop.to_s > this.position_s + 0.1 ? this.loop.to_s : this.length_s;
    this.set_loop({ from_s: this.position_s, to_s });
  }

  loop_to() {
    const from_s = this.loop && this.loop.from_s < this.position_s - 0.1 ? this.loop.from_s : 0;
    this.set_loop({ from_s, to_s: this.position_s });
  }

  section(number) {
    const section = this.mix.sections[number];
    if (section) this.set_loop({ from_s: section.from_s, to_s: Math.min(section.to_s, this.length_s) });
  }

  // Levels.

  toggle_match() {
    if (!this.matching_loop && !this.looping) return this.say("loop a stretch first: levels are matched over it then");
    this.matching_loop = !this.matching_loop;
    this._match();
    if (!this.hidden) this.say(this.matching_loop ? "levels matched over the loop" : "levels matched as in the run");
    return undefined;
  }

  _match() {
    this.gains_db = this.sounds.map((sound) => sound.match_gain_db);
    if (this.matching_loop && this.looping) {
      const { gains, why } = Loudness.matched(this.sounds, this.loop.from_s, this.loop.to_s, this.mix.rate_hz);
      if (gains) this.gains_db = this.sounds.map((sound) => gains[sound.id]);
      else {
        this.matching_loop = false;
        this.say(`${why} Levels stay matched as in the run.`);
      }
    } else this.matching_loop = false;
    this.player.match(this.gains_db);
    this.tell("level");
  }

  toggle_delivery() {
    if (this.hidden) return this.say("true level would tell which is which: not while names are hidden");
    this._deliver(!this.delivery);
    return this.say(this.level_words(this.chosen));
  }

  _deliver(delivery) {
    this.delivery = delivery;
    this.player.level(delivery);
    this.tell("level");
  }

  level_words(place) {
    const gain_db = this.gains_db[place];
    if (!this.delivery) return `matched, ${Make.signed(gain_db)} dB`;
    const way = gain_db <= 0 ? "louder" : "quieter";
    return `true level, ${Math.abs(gain_db).toFixed(1)} dB ${way} than matched`;
  }

  volume(by_db) {
    this.set_volume(this.monitor_db + by_db);
  }

  set_volume(gain_db) {
    this.monitor_db = Math.max(LEAST_DB, Math.min(0, gain_db));
    this.player.volume(this.monitor_db);
    this.tell("volume");
  }

  // Hiding.

  /**
   * Names hidden and order drawn, or shown again. The mix is a hidden reference, in the spirit of ITU-R BS.1534-3 (from
   * memory): it is rated like any other, and what it was rated is no pick; references and previews stay out: they cannot be hidden among variants.
   */
  toggle_blind() {
    if (this.session) return;
    const rated = this.blind ? this._rated() : "";
    if (this.blind) {
      this.blind = null;
      this.shown = this.sounds.map((_, place) => place);
    } else {
      const places = this.sounds.map((_, place) => place);
      this.blind = { touched: new Set() };
      this.shown = Chance.shuffled(places.filter((p) => ["variant", "mix"].includes(this.sounds[p].kind)));
      this._deliver(false);
      this.before = this.shown[0];
      this._choose(this.shown[0]);
    }
    this._renamed();
    this.say(this.blind ? "names hidden, order shuffled" : `revealed: ${this.label(this.chosen)} plays${rated}`);
  }

  /** What the hidden reference was rated, for when names are shown again. */
  _rated() {
    const mix = this.sounds.findIndex((sound) => sound.kind === "mix");
    const verdict = mix < 0 ? null : this.verdict(mix);
    return verdict ? `; the untouched mix was rated ${verdict}, which is no pick` : "";
  }

  /** session: a ForcedChoiceView or RankingView, or null when it is over. */
  set_session(session) {
    if (session) {
      this._deliver(false);
      this.returning ??= this.chosen;
    }
    this.session = session;
    if (!session && this.returning !== undefined) {
      this._choose(this.returning);
      this.returning = undefined;
    }
    this._renamed();
  }

  _renamed() {
    this.tell("names");
    this._trouble();
  }

  // Picks.

  get book() {
    return this.saving.document;
  }

  /** What the page may show of a sound's verdict: while names are hidden, only what was given since. */
  verdict(place) {
    if (this.blind && !this.blind.touched.has(`verdict ${place}`)) return null;
    return NotesBook.verdict(this.book, this.sounds[place].id);
  }

  notes(place) {
    const notes = NotesBook.notes(this.book, this.sounds[place].id);
    return this.blind ? notes.filter((note) => this.blind.touched.has(this._note_key(place, note))) : notes;
  }

  may_pick(place = this.chosen) {
    return !this.session && this.sounds[place].kind === "variant";
  }

  /** Whether a verdict there is a rating of a hidden reference, and no pick; nothing that may be told while names are hidden. */
  only_rated(place) {
    return !this.hidden && this.sounds[place].kind !== "variant";
  }

  judge(verdict) {
    if (this.session) return undefined;
    // the untouched mix may be behind a letter: a verdict on it is taken like any other, or it would give itself away
    const place = this.chosen;
    const { id } = this.sounds[place];
    if (!this.may_pick() && !this.blind && this.verdict(place) !== verdict)
      return this.say("verdicts are for variants; what was rated with names hidden is taken back by its own key");
    const fresh = this.blind && !this.blind.touched.has(`verdict ${place}`);
    this.blind?.touched.add(`verdict ${place}`);
    this.saving.change((book) => {
      const clean = fresh ? NotesBook.withVerdict(book, id, NotesBook.verdict(book, id)) : book;
      return NotesBook.withVerdict(clean, id, verdict);
    });
    return this.say(`${this.label(place)}: ${this.verdict(place) ?? "no verdict"}`);
  }

  note(text, at_s) {
    const note = { at_s: Math.round(at_s * 10) / 10, text };
    this.blind?.touched.add(this._note_key(this.chosen, note));
    this.saving.change((book) => NotesBook.withNote(book, this.sounds[this.chosen].id, note));
    this.say("noted");
  }

  forget_note(place, note) {
    const { id } = this.sounds[place];
    const key = this._note_key(place, note);
    const at = NotesBook.notes(this.book, id).findIndex((other) => this._note_key(place, other) === key);
    this.saving.change((book) => NotesBook.withoutNote(book, id, at));
  }

  _note_key(place, { at_s, text }) {
    return JSON.stringify([place, at_s, text]);
  }

  /** What could not be read has a name: told anew when names are hidden or shown. */
  _trouble() {
    const { problem } = this.player;
    this.tell("problem", problem && this.hidden ? "A sound could not be read; reveal the names to see which." : problem);
  }
}
