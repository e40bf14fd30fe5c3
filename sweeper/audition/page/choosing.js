// A forced choice on screen.

const TRIALS = [8, 10, 12, 16, 20, 25];
const USUAL_TRIALS = 12;

class ChoiceOffer {
  constructor(sessions) {
    this.sessions = sessions;
    this.desk = sessions.desk;
  }

  show() {
    const { desk, sessions } = this;
    const places = sessions.places();
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
          return new ChoiceView(sessions, one, other, Number(of.lastChild.value)).begin();
        },
      },
      "start",
    );
    sessions.show(
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
}

/** One that was begun and not ended. To begin another, this one is ended and counts: else only what looks good would stay. */
class ChoiceRest {
  constructor(sessions, begun) {
    Object.assign(this, { sessions, desk: sessions.desk, begun });
  }

  show() {
    const { sessions, desk, begun } = this;
    const places = sessions.found([begun.a, begun.b]);
    const view = places && new ChoiceView(sessions, ...places, begun.of, begun);
    const button = (text, kind, act) => Make.html("button", { type: "button", class: kind, onclick: act }, text);
    const on = view && button(`go on with trial ${begun.answered + 1}`, "go", () => view.begin());
    const end = button("end it here; it counts as it is", null, () => (view ? view.end() : this._end()));
    sessions.show(
      Make.html("h2", {}, `A forced choice is unfinished: ${begun.answered} of ${begun.of} answered`),
      Make.html(
        "p",
        {},
        !view
          ? "It is between sounds that are not on this page: name them when you start the audition."
          : begun.unnamed
            ? "It was begun with names hidden. "
            : `${desk.label(places[0])} or ${desk.label(places[1])}. `,
        "What was right so far is told at the end only.",
      ),
      Make.html("div", { class: "row" }, on, end),
    );
    return (on ?? end).focus();
  }

  _end() {
    const { a, b, of, right, answered } = this.begun;
    const result = new ForcedChoice(a, b, of, undefined, { right, answered }).result(new Date().toISOString());
    const mix = String(this.desk.mix.number);
    this.desk.saving.change((book) => NotesBook.withUnfinished(NotesBook.withTrial(book, result), mix, "choice", null));
    this.sessions.close();
    this.desk.say(`ended after ${answered} of ${of}: it stands with the notes`);
  }
}

class ChoiceView extends SessionView {
  constructor(sessions, a, b, of, begun = {}) {
    super(sessions, ["a", "x", "b"]);
    this.choice = new ForcedChoice(a, b, of, undefined, begun.answered ? begun : undefined);
    this.began = begun.began ?? new Date().toISOString();
    this.unnamed = begun.unnamed ?? this.desk.blind !== null;
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
    if (!this.choice.answer(letter)) return this.end();
    const { began, unnamed } = this;
    this._keep("choice", { ...this._with_ids(this.choice.state), began, unnamed });
    return this.next();
  }

  _with_ids(entry) {
    const id = (place) => this.desk.sounds[place].id;
    return { ...entry, a: id(entry.a), b: id(entry.b) };
  }

  end() {
    const { desk, choice } = this;
    const result = choice.result(new Date().toISOString());
    desk.set_session(null);
    if (!result) return this.sessions.close();
    this._keep("choice", null, (book) => NotesBook.withTrial(book, this._with_ids(result)));
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
