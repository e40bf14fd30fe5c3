// Ranking by pairs on screen.

class RankingOffer {
  constructor(sessions) {
    this.sessions = sessions;
    this.desk = sessions.desk;
  }

  show() {
    const { desk, sessions } = this;
    const places = sessions.places().filter((place) => desk.verdict(place) !== "drop");
    if (places.length < 2) return desk.say("ranking needs two sounds that are not dropped");
    const start = Make.html(
      "button",
      { type: "button", class: "go", onclick: () => new RankingView(sessions, places).begin() },
      "start",
    );
    sessions.show(
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

/** One that was begun and not ended. */
class RankingRest {
  constructor(sessions, begun) {
    Object.assign(this, { sessions, desk: sessions.desk, begun });
  }

  show() {
    const { sessions, desk, begun } = this;
    const places = sessions.found(begun.sounds);
    const answers = places && begun.answers.map((answer) => sessions.found(answer));
    const on =
      places &&
      Make.html(
        "button",
        {
          type: "button",
          class: "go",
          onclick: () => new RankingView(sessions, places, { answers, checking: begun.checking }).begin(),
        },
        `go on with pair ${begun.answers.length + 1}`,
      );
    const anew = Make.html(
      "button",
      {
        type: "button",
        onclick: () => {
          const mix = String(desk.mix.number);
          desk.saving.change((book) => NotesBook.withUnfinished(book, mix, "ranking", null));
          new RankingOffer(sessions).show();
        },
      },
      "begin anew, without those answers",
    );
    sessions.show(
      Make.html("h2", {}, `A ranking is unfinished: ${begun.answers.length} answers of ${begun.sounds.length} sounds`),
      places
        ? null
        : Make.html("p", {}, "Some of its sounds are not on this page: name them when you start the audition."),
      Make.html("div", { class: "row" }, on, anew),
    );
    return (on ?? anew).focus();
  }
}

class RankingView extends SessionView {
  constructor(sessions, places, begun = {}) {
    super(sessions, ["a", "b"]);
    this.places = begun.answers ? places : Chance.shuffled(places);
    this.answers = begun.answers ?? [];
    this.checking = begun.checking ?? false;
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
    const id = (place) => this.desk.sounds[place].id;
    const answers = this.answers.map((answer) => answer.map(id));
    this._keep("ranking", { sounds: this.places.map(id), answers, checking: this.checking });
    this.next();
  }

  end() {
    const { order } = Ranking.next(this.places, this.answers);
    if (order) return this._ordered(order);
    this.desk.set_session(null);
    this.desk.say(this.answers.length ? "no order yet: r goes on with it" : "ranking ended before the first answer");
    return this.sessions.close();
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
    this._keep("ranking", null, (book) => NotesBook.withRanking(book, String(desk.mix.number), ranking));
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
