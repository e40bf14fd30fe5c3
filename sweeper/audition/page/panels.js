// The right-hand side: one of four panels. Notes are there whatever is hidden; what would tell a name is not.

class NotesPanel {
  constructor(desk) {
    this.desk = desk;
    this.name = "notes";
    this.topics = "mix names chosen picks";
  }

  draw(root) {
    const { desk } = this;
    const parts = desk.shown
      .filter((place) => desk.verdict(place) || desk.notes(place).length)
      .map((place) => {
        const verdict = desk.verdict(place);
        const notes = desk.notes(place).map((note) =>
          Make.html(
            "li",
            {},
            note.at_s === null
              ? null
              : Make.html(
                  "button",
                  {
                    type: "button",
                    class: "at",
                    onclick: () => {
                      desk.choose(place);
                      desk.seek(note.at_s);
                    },
                  },
                  Make.time(note.at_s),
                ),
            Make.html("span", { class: "text" }, note.text),
            Make.html(
              "button",
              {
                type: "button",
                class: "gone",
                "aria-label": `remove the note ${note.text}`,
                onclick: () => desk.forget_note(place, note),
              },
              "×",
            ),
          ),
        );
        return Make.html(
          "section",
          {},
          Make.html(
            "h3",
            {},
            desk.label(place),
            verdict ? Make.html("span", { class: `mark ${verdict}` }, ` ${MARKS[verdict]} ${verdict}`) : null,
            verdict && desk.only_rated(place) ? " (rated with names hidden; no pick)" : null,
          ),
          Make.html("ul", { class: "notes" }, notes),
        );
      });
    root.replaceChildren(
      ...(parts.length
        ? parts
        : [
            Make.html(
              "p",
              {},
              "No verdict and no note yet. ",
              Make.key("k"),
              " ",
              Make.key("m"),
              " ",
              Make.key("d"),
              " judge what plays, ",
              Make.key("n"),
              " notes something at the place that plays.",
            ),
          ]),
      ...this._sessions(),
    );
  }

  /** What was ranked, and how forced choices went. */
  _sessions() {
    const { desk } = this;
    if (desk.hidden) return [];
    const name = (id) => desk.sounds.find((sound) => sound.id === id)?.name ?? id;
    const ranking = desk.book.ranking[String(desk.mix.number)];
    const trials = desk.book.trials.map(({ a, b, right, of, planned, p = Guessing.probability(right, of) }) => {
      const early = planned > of ? `; ended early, of ${planned}: luck looks better so` : "";
      return Make.html(
        "li",
        {},
        `${name(a)} or ${name(b)}: ${right} of ${of} right, by guessing ${Guessing.words(p)}${early}`,
      );
    });
    return [
      ranking
        ? Make.html(
            "section",
            {},
            Make.html("h3", {}, "Ranked"),
            Make.html(
              "p",
              {},
              ranking.order.map(name).join(", "),
              ranking.inconsistent.length ? `; ${ranking.inconsistent.length} in a circle` : "",
            ),
          )
        : "",
      trials.length ? Make.html("section", {}, Make.html("h3", {}, "Forced choices"), Make.html("ul", {}, trials)) : "",
    ];
  }
}

class NumbersPanel {
  constructor(desk) {
    this.desk = desk;
    this.name = "numbers";
    this.topics = "mix names chosen";
  }

  draw(root) {
    const { desk } = this;
    const sound = desk.sounds[desk.chosen];
    const mix = desk.sounds.find(({ kind }) => kind === "mix");
    const others = mix && mix !== sound ? [mix] : [];
    const cell = (of, { key, decimals: digits = 2 }) => {
      const value = of.measurements[key];
      const why = of.reasons?.[key];
      return Make.html(
        "td",
        { title: why ?? null },
        value === null || value === undefined ? (why ? "none*" : "") : Make.number(value, digits),
      );
    };
    const rows = desk.manifest.quantities
      .filter(({ key }) => [sound, ...others].some((of) => of.measurements[key] !== undefined))
      .map((q) =>
        Make.html(
          "tr",
          {},
          Make.html("th", { scope: "row" }, q.name),
          [sound, ...others].map((of) => cell(of, q)),
          Make.html("td", {}, q.unit),
        ),
      );
    const called = (key) => desk.manifest.quantities.find((q) => q.key === key)?.name ?? key;
    const reasons = Object.entries(sound.reasons ?? {}).map(([key, why]) =>
      Make.html("li", {}, `${called(key)}: ${why}`),
    );
    root.replaceChildren(
      Make.html(
        "table",
        { class: "numbers" },
        Make.html(
          "thead",
          {},
          Make.html(
            "tr",
            {},
            Make.html("td"),
            [sound, ...others].map((of) => Make.html("th", { scope: "col" }, of.name)),
            Make.html("td"),
          ),
        ),
        Make.html("tbody", {}, rows),
      ),
      reasons.length ? Make.html("ul", { class: "reasons" }, reasons) : "",
      this._thirds(sound),
    );
  }

  _thirds({ thirds_difference_db: thirds }) {
    if (!thirds) return "";
    return Make.html(
      "details",
      {},
      Make.html("summary", {}, "thirds of an octave against the mix, dB"),
      Make.html(
        "table",
        {},
        thirds.map((db, i) =>
          Make.html(
            "tr",
            {},
            Make.html("th", { scope: "row" }, `${THIRDS_HZ[i]} Hz`),
            Make.html("td", {}, db === null ? "none" : Make.signed(db, 2)),
          ),
        ),
      ),
    );
  }
}

class Panels {
  constructor(desk, tabs, root) {
    this.desk = desk;
    this.root = root;
    this.all = [new LookPanel(desk), new MapPanel(desk), new NotesPanel(desk), new NumbersPanel(desk)];
    this.open = this.all[0];
    this.tabs = this.all.map((panel) =>
      Make.html(
        "button",
        {
          type: "button",
          role: "tab",
          id: `tab-${panel.name}`,
          "aria-controls": "panel",
          onclick: () => this.show(panel),
        },
        panel.name,
      ),
    );
    tabs.append(...this.tabs, Make.html("span", { class: "hint" }, Make.key("p")));
    tabs.addEventListener("keydown", (event) => this._walk(event));
    desk.watch("mix names chosen level picks", (_, topic) => {
      if (topic === "names" || desk.hidden || this.open.topics.includes(topic)) this.draw();
    });
  }

  show(panel) {
    this.open = panel;
    this.draw();
    this.desk.say(`${panel.name} shown`);
  }

  next() {
    this.show(this.all[(this.all.indexOf(this.open) + 1) % this.all.length]);
  }

  draw() {
    this.tabs.forEach((tab, i) => {
      const open = this.all[i] === this.open;
      tab.setAttribute("aria-selected", String(open));
      tab.tabIndex = open ? 0 : -1;
    });
    this.root.setAttribute("aria-labelledby", `tab-${this.open.name}`);
    if (!this.desk.hidden) this.open.draw(this.root);
    else this._hidden();
  }

  /** Of what is hidden only notes are left, of what was written since. */
  _hidden() {
    const words = Make.html(
      "p",
      { class: "hidden-now" },
      "Hidden while names are: pictures and numbers would tell which is which.",
    );
    const notes = Make.html("div");
    if (!this.desk.session) this.all.find(({ name }) => name === "notes").draw(notes);
    this.root.replaceChildren(words, notes);
  }

  _walk(event) {
    const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!by) return;
    event.preventDefault();
    event.stopPropagation();
    const at = (this.all.indexOf(this.open) + by + this.all.length) % this.all.length;
    this.show(this.all[at]);
    this.tabs[at].focus();
  }
}
