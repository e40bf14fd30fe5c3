// Forced choice and ranking on screen: two unknown sounds, or two and an unknown, and nothing that tells them apart.

const TRIALS = [8, 10, 12, 16, 20, 25];
const USUAL_TRIALS = 12;

class Sessions {
  constructor(desk, root) {
    this.desk = desk;
    this.root = root;
    desk.watch("session", (kind) => this._offer(kind));
    desk.watch("mix", () => this._close());
  }

  get running() {
    return this.desk.session;
  }

  _show(...children) {
    this.root.replaceChildren(...children);
    this.root.hidden = false;
    this.root.scrollIntoView({ block: "nearest" });
  }

  _close() {
    this.root.replaceChildren();
    this.root.hidden = true;
  }

  /** Esc: ends what is under way, then closes. */
  leave() {
    if (this.running) return this.running.end();
    return this._close();
  }

  _offer(kind) {
    if (this.running) return;
    if (kind === "choice") this._offer_choice();
    else this._offer_ranking();
  }

  /** Places that can be compared: variants and the mix. */
  _places() {
    const { desk } = this;
    return desk.shown.filter((place) => ["variant", "mix"].includes(desk.sounds[place].kind));
  }

  _offer_choice() {
    const { desk } = this;
    const places = this._places();
    if (places.length < 2) return desk.say("a forced choice needs two sounds");
    const select = (label, chosen) =>
      Make.html(
        "label",
        {},
        label,
        Make.html(
          "select",
          {},
          // by their place on screen: the place in the run would tell what is hidden
          places.map((place, at) => Make.html("option", { value: at, selected: place === chosen }, desk.label(place))),
        ),
      );
    const first = places.includes(desk.chosen) ? desk.chosen : places[0];
    const second = [desk.before, ...places].find((place) => places.includes(place) && place !== first);
    const [a, b] = [select("this", first), select("that", second)];
    const of = Make.html(
      "label",
      {},
      "trials",
      Make.html(
        "select",
        {},
        TRIALS.map((count) => Make.html("option", { value: count, selected: count === USUAL_TRIALS }, String(count))),
      ),
    );
    const start = Make.html(
      "button",
      {
        type: "button",
        class: "go",
        onclick: () => {
          const [one, other] = [a, b].map((label) => places[Number(label.lastChild.value)]);
          if (one === other) return desk.say("choose two different sounds");
          return new ChoiceView(this, one, other, Number(of.lastChild.value)).begin();
        },
      },
      "start",
    );
    this._show(
      Make.html("h2", {}, "Forced choice: is X this or that?"),
      Make.html("div", { class: "row" }, a, b, of, start),
      Make.html(
        "p",
        {},
        "X is one of the two, drawn anew for every trial. Listen as long as you like, then say which. How many trials " +
          "there are is settled now, and what was right is told at the end: stopping when it looks good makes luck look like hearing.",
      ),
    );
    return start.focus();
  }

  _offer_ranking() {
    const { desk } = this;
    const places = this._places().filter((place) => desk.verdict(place) !== "drop");
    if (places.length < 2) return desk.say("ranking needs two sounds that are not dropped");
    const start = Make.html(
      "button",
      { type: "button", class: "go", onclick: () => new RankingView(this, places).begin() },
      "start",
    );
    this._show(
      Make.html("h2", {}, "Rank by pairs"),
      Make.html(
        "p",
        {},
        `Which of two, ${places.length} sounds, with names hidden: at most ` +
          `${Ranking.most(places.length)} answers. What is dropped is left out.`,
      ),
      Make.html("div", { class: "row" }, start),
    );
    return start.focus();
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
        { type: "button", class: "go", onclick: () => this.answer(letter) },
        Make.key(`⇧${letter.toUpperCase()}`),
        text,
      ),
    );
    const stop = Make.html("button", { type: "button", onclick: () => this.end() }, Make.key("Esc"), "end");
    this.sessions._show(
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
      { type: "button", onclick: () => this.sessions._close() },
      Make.key("Esc"),
      "close",
    );
    this.sessions._show(Make.html("h2", {}, title), ...children, Make.html("div", { class: "row" }, more, close));
  }
}

class ChoiceView extends SessionView {
  constructor(sessions, a, b, of) {
    super(sessions, ["a", "x", "b"]);
    this.choice = new ForcedChoice(a, b, of);
  }

  place(letter) {
    return this.choice.sound(letter);
  }

  begin() {
    this.desk.set_session(this);
    this.next();
  }

  next() {
    const { answered, of } = this.choice;
    this._draw(`Trial ${answered + 1} of ${of}: is X this (A) or that (B)?`, [
      ["a", "X is A"],
      ["b", "X is B"],
    ]);
    this.hear("x");
    this.desk.say(`trial ${answered + 1} of ${of}, X plays`);
  }

  answer(letter) {
    if (letter === "x") return;
    if (this.choice.answer(letter)) this.next();
    else this.end();
  }

  end() {
    const { desk, choice } = this;
    const name = (place) => desk.sounds[place].id;
    const result = choice.result(new Date().toISOString());
    desk.set_session(null);
    if (!result) return this.sessions._close();
    desk.saving.change((book) => NotesBook.withTrial(book, { ...result, a: name(choice.a), b: name(choice.b) }));
    const { right, of, p } = result;
    const needed = Guessing.needed(of, 0.05);
    const early =
      of < choice.of
        ? ` Ended after ${of} of ${choice.of}: an end that was not settled before makes luck look better.`
        : "";
    const words = `Guessing does as well or better with a probability of ${Guessing.words(p)}.`;
    const mark =
      needed === null ? "So few trials cannot get below 0.05." : `${needed} of ${of} or more would be below 0.05.`;
    this._result(
      `${right} of ${of} right: ${desk.label(choice.a)} or ${desk.label(choice.b)}`,
      null,
      Make.html("p", { class: "big" }, words),
      Make.html("p", {}, mark + early),
    );
    return desk.say(`${right} of ${of} right. ${words}`);
  }
}

class RankingView extends SessionView {
  constructor(sessions, places) {
    super(sessions, ["a", "b"]);
    this.places = Chance.shuffled(places);
    this.answers = [];
    this.checking = false;
  }

  place(letter) {
    return this.pair[letter === "a" ? 0 : 1];
  }

  begin() {
    this.desk.set_session(this);
    this.next();
  }

  next() {
    const { order, ask } = Ranking.next(this.places, this.answers);
    const asked = ask ?? (this.checking ? Chance.shuffled(Ranking.checks(order, this.answers))[0] : undefined);
    if (!asked) return this._ordered(order);
    this.pair = Chance.shuffled(asked);
    this._draw(`Pair ${this.answers.length + 1}: which do you prefer?`, [
      ["a", "A is better"],
      ["b", "B is better"],
    ]);
    return this.hear("a");
  }

  answer(letter) {
    this.answers.push([...this.pair, this.place(letter)]);
    this.next();
  }

  end() {
    const { order } = Ranking.next(this.places, this.answers);
    if (order) return this._ordered(order);
    this.desk.set_session(null);
    this.desk.say("ranking ended before there was an order: nothing is kept");
    return this.sessions._close();
  }

  _ordered(order) {
    const { desk } = this;
    const id = (place) => desk.sounds[place].id;
    const triads = Ranking.triads(this.answers);
    const ranking = {
      order: order.map(id),
      comparisons: this.answers.map((answer) => answer.map(id)),
      inconsistent: triads.map((triad) => triad.map(id)),
    };
    desk.set_session(null);
    desk.saving.change((book) => NotesBook.withRanking(book, String(desk.mix.number), ranking));
    const open = Ranking.checks(order, this.answers).length;
    const check =
      open &&
      Make.html(
        "button",
        {
          type: "button",
          class: "go",
          onclick: () => {
            this.checking = true;
            this.begin();
          },
        },
        `check it: ${open} more`,
      );
    const circles = triads.map(([a, b, c]) =>
      Make.html(
        "li",
        {},
        `${desk.label(a)} over ${desk.label(b)}, ${desk.label(b)} over ` +
          `${desk.label(c)}, but ${desk.label(c)} over ${desk.label(a)}`,
      ),
    );
    this._result(
      `In your order, after ${this.answers.length} answers`,
      check || null,
      Make.html(
        "ol",
        { class: "ranking" },
        order.map((place) => Make.html("li", {}, desk.label(place))),
      ),
      triads.length
        ? Make.html(
            "div",
            { class: "circles" },
            Make.html("p", {}, "Answers that go in a circle: these are closer than the order says."),
            Make.html("ul", {}, circles),
          )
        : Make.html(
            "p",
            {},
            open ? "Whether answers agree with each other, a few more pairs would show." : "No answers go in a circle.",
          ),
    );
    desk.say(`ranked: ${order.map((place) => desk.label(place)).join(", ")}`);
  }
}
