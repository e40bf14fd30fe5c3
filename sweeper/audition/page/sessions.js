// Forced choice and ranking on screen: two unknown sounds, or two and an unknown, and nothing that tells them apart.

class Sessions {
  constructor(desk, root) {
    this.desk = desk;
    this.root = root;
    desk.watch("session", (kind) => this._offer(kind));
    desk.watch("mix", () => this._opened());
  }

  /** Says what waits to be gone on with. */
  _opened() {
    this.close();
    const { choice, ranking } = this.unfinished;
    const told = [choice && "a forced choice (c)", ranking && "a ranking (r)"].filter(Boolean).join(" and ");
    if (told) this.desk.say(`unfinished: ${told} goes on where it was left`);
  }

  get unfinished() {
    return NotesBook.unfinished(this.desk.book, String(this.desk.mix.number));
  }

  get running() {
    return this.desk.session;
  }

  show(...children) {
    this.root.replaceChildren(...children);
    this.root.hidden = false;
    this.root.scrollIntoView({ block: "nearest" });
  }

  close() {
    this.root.replaceChildren();
    this.root.hidden = true;
  }

  /** Esc: ends what is under way, then closes. */
  leave() {
    if (this.running) return this.running.end();
    return this.close();
  }

  _offer(kind) {
    if (this.running) return;
    const { choice, ranking } = this.unfinished;
    if (kind === "choice") (choice ? new ChoiceRest(this, choice) : new ChoiceOffer(this)).show();
    else (ranking ? new RankingRest(this, ranking) : new RankingOffer(this)).show();
  }

  /** Places that can be compared: variants and the mix. */
  places() {
    const { desk } = this;
    return desk.shown.filter((place) => ["variant", "mix"].includes(desk.sounds[place].kind));
  }

  /** The places of sounds by id; null where one is not on this page. */
  found(ids) {
    const places = ids.map((id) => this.desk.sounds.findIndex((sound) => sound.id === id));
    return places.includes(-1) ? null : places;
  }
}

/** What both have: sounds to hear by letter, and answers. */
class SessionView {
  constructor(sessions, letters) {
    this.sessions = sessions;
    this.desk = sessions.desk;
    this.letters = letters;
    this.heard = letters[0];
  }

  label() {
    return this.heard.toUpperCase();
  }

  hear(letter) {
    if (!this.letters.includes(letter)) return;
    this.heard = letter;
    this.desk._choose(this.place(letter));
    this._mark();
    this.desk.say(`${this.label()} plays`);
  }

  _draw(title, answers) {
    const tiles = this.letters.map((letter) =>
      Make.html(
        "button",
        { type: "button", class: "tile unknown", "data-letter": letter, onclick: () => this.hear(letter) },
        Make.key(letter),
        Make.html("span", { class: "name" }, letter.toUpperCase()),
      ),
    );
    const buttons = answers.map(([letter, text]) =>
      Make.html(
        "button",
        { type: "button", class: "answer", onclick: () => this.answer(letter) },
        Make.key(`⇧${letter.toUpperCase()}`),
        text,
      ),
    );
    const stop = Make.html("button", { type: "button", onclick: () => this.end() }, Make.key("Esc"), "end");
    this.sessions.show(
      Make.html("h2", {}, title),
      Make.html("div", { class: "row tiles" }, tiles),
      Make.html("div", { class: "row" }, buttons, stop),
    );
    this._mark();
  }

  _mark() {
    for (const tile of this.sessions.root.querySelectorAll("[data-letter]"))
      tile.setAttribute("aria-pressed", String(tile.dataset.letter === this.heard));
  }

  _result(title, more, ...children) {
    this.desk.set_session(null);
    const close = Make.html(
      "button",
      { type: "button", onclick: () => this.sessions.close() },
      Make.key("Esc"),
      "close",
    );
    this.sessions.show(Make.html("h2", {}, title), ...children, Make.html("div", { class: "row" }, more, close));
  }

  /** Keeps what it takes to go on after the page was closed; null: it is over. more: another change to the book. */
  _keep(kind, what, more = (book) => book) {
    const mix = String(this.desk.mix.number);
    this.desk.saving.change((book) => NotesBook.withUnfinished(more(book), mix, kind, what));
  }
}
