// The sounds, a tile each: number, name, level, verdict. And the sections, the verdicts, and the line of playback.

const MARKS = { keep: "✓", maybe: "?", drop: "×" };

class Tiles {
  constructor(desk, root) {
    this.desk = desk;
    this.root = root;
    desk.watch("mix names", () => this.draw());
    desk.watch("chosen level picks", () => this.refresh());
  }

  draw() {
    const { desk } = this;
    this.tiles = new Map();
    this.root.replaceChildren();
    this.root.hidden = desk.session !== null;
    if (this.root.hidden) return;
    desk.shown.forEach((place, at) => {
      const sound = desk.sounds[place];
      const tile = Make.html(
        "button",
        {
          type: "button",
          class: `tile ${desk.hidden ? "" : sound.kind}`,
          title: desk.hidden ? null : sound.name, // where it is too long to be shown
          onclick: () => desk.choose(place),
        },
        at < 10 ? Make.key(String((at + 1) % 10)) : null,
        Make.html("span", { class: "name" }, desk.label(place)),
        Make.html("span", { class: "foot" }, Make.html("span", { class: "gain" }), Make.html("span", { class: "mark" })),
      );
      this.tiles.set(place, tile);
      this.root.append(tile);
    });
    this.root.classList.toggle("blind", desk.blind !== null);
    this.root.classList.toggle("many", desk.shown.length > 10);
    this.refresh();
  }

  refresh() {
    const { desk } = this;
    if (!this.tiles || this.root.hidden) return;
    for (const [place, tile] of this.tiles) {
      tile.setAttribute("aria-pressed", String(place === desk.chosen));
      const [gain, mark] = [tile.querySelector(".gain"), tile.querySelector(".mark")];
      const gain_db = desk.gains_db[place];
      gain.textContent = desk.hidden
        ? ""
        : desk.delivery
          ? `${Make.signed(-gain_db)} dB louder`
          : `${Make.signed(gain_db)} dB`;
      const verdict = desk.verdict(place);
      mark.textContent = verdict ? `${desk.only_rated(place) ? "rated " : ""}${MARKS[verdict]} ${verdict}` : "";
      mark.className = `mark ${verdict ?? ""}`;
    }
  }
}

class Sections {
  constructor(desk, root) {
    desk.watch("mix", () => {
      root.replaceChildren(
        ...desk.mix.sections.map((section, number) =>
          Make.html(
            "button",
            {
              type: "button",
              class: "section",
              onclick: () => desk.section(number),
              title: `${Make.time(section.from_s)} to ${Make.time(section.to_s)}`,
            },
            number < 9 ? Make.key(`⇧${number + 1}`) : null,
            section.name,
          ),
        ),
      );
      root.hidden = !desk.mix.sections.length;
    });
    desk.watch("mix loop", () => {
      [...root.children].forEach((button, number) => {
        const { from_s } = desk.mix.sections[number];
        button.setAttribute("aria-pressed", String(desk.looping && desk.loop.from_s === from_s));
      });
    });
  }
}

class Verdicts {
  constructor(desk, root) {
    this.desk = desk;
    this.root = root;
    this.buttons = VERDICTS.map((verdict) =>
      Make.html(
        "button",
        {
          type: "button",
          class: `judge ${verdict}`,
          onclick: () => desk.judge(verdict),
        },
        Make.key(verdict[0]),
        `${MARKS[verdict]} ${verdict}`,
      ),
    );
    this.note = Make.html("input", {
      type: "text",
      "aria-label": "note at this place",
      maxlength: 500,
      placeholder: "n: a note at this place, Enter keeps it",
      onkeydown: (event) => this._key(event),
    });
    root.append(...this.buttons, this.note);
    desk.watch("mix names chosen picks", () => this.refresh());
  }

  refresh() {
    const { desk } = this;
    this.root.hidden = desk.session !== null;
    const may = desk.blind !== null || desk.may_pick();
    const verdict = desk.verdict(desk.chosen);
    this.buttons.forEach((button, i) => {
      button.disabled = !may && verdict !== VERDICTS[i];
      button.setAttribute("aria-pressed", String(verdict === VERDICTS[i]));
    });
    this.note.disabled = !may;
  }

  begin() {
    if (this.note.disabled || this.root.hidden) return this.desk.say("notes are for variants");
    this.at_s = this.desk.position_s;
    return this.note.focus();
  }

  _key(event) {
    if (event.key === "Escape") this.note.value = "";
    if (event.key === "Enter" && this.note.value.trim())
      this.desk.note(this.note.value.trim(), this.at_s ?? this.desk.position_s);
    if (event.key !== "Enter" && event.key !== "Escape") return;
    event.stopPropagation();
    event.preventDefault();
    this.note.value = "";
    this.at_s = undefined;
    this.note.blur();
  }
}
