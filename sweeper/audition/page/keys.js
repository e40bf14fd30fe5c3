// The keys, and the overlay that lists them. One list for both.

/** What every key does: [keys, shown as, in words, act(desk, page), when]. when: "always", or only while nothing is asked. */
const KEYS = [
  ["Listen"],
  [[" "], "Space", "play, pause", ({ desk }) => desk.toggle(), "always"],
  [
    [..."1234567890"],
    "1 … 9 0",
    "hear that sound, at the same place",
    ({ desk, event }) => desk.choose(desk.shown[(Number(event.key) + 9) % 10]),
  ],
  [
    ["ArrowUp", "ArrowDown"],
    "↑ ↓",
    "the sound before, the one after",
    ({ desk, event }) => desk.step(event.key === "ArrowUp" ? -1 : 1),
  ],
  [["f"], "f", "flip between the last two", ({ desk }) => desk.flip()],
  [
    ["ArrowLeft", "ArrowRight"],
    "← →",
    "5 s back, on; with Shift 1 s",
    ({ desk, event }) => desk.nudge((event.key === "ArrowLeft" ? -1 : 1) * (event.shiftKey ? 1 : 5)),
    "always",
  ],
  [["Home"], "Home", "to the start, or to the loop's", ({ desk }) => desk.home(), "always"],
  [["-"], "−", "monitor 1 dB down", ({ desk }) => desk.volume(-1), "always"],
  [["+", "="], "+", "monitor 1 dB up", ({ desk }) => desk.volume(1), "always"],
  [["v"], "v", "true delivery level, and back", ({ desk }) => desk.toggle_delivery()],
  ["Loop"],
  [["l"], "l", "loop on, off", ({ desk }) => desk.toggle_loop(), "always"],
  [
    ["[", "]"],
    "[ ]",
    "loop from here, to here",
    ({ desk, event }) => (event.key === "[" ? desk.loop_from() : desk.loop_to()),
    "always",
  ],
  [
    ["⇧1"],
    "⇧1 … ⇧9",
    "loop that section",
    ({ desk, event }) => desk.section(Number(event.code.slice(-1)) - 1),
    "always",
  ],
  [["o"], "o", "match levels over the loop", ({ desk }) => desk.toggle_match(), "always"],
  ["Judge"],
  [
    ["k", "m", "d"],
    "k m d",
    "keep, maybe, drop; again takes it back",
    ({ desk, event }) => desk.judge({ k: "keep", m: "maybe", d: "drop" }[event.key]),
  ],
  [["n"], "n", "a note at this place; Enter keeps it, Esc does not", ({ verdicts }) => verdicts.begin()],
  [["s"], "s", "save now, or into a file", ({ desk }) => desk.saving.now(desk.manifest.notes_file_name), "always"],
  ["Hide"],
  [["b"], "b", "hide names and shuffle; again reveals", ({ desk }) => desk.toggle_blind()],
  [["c"], "c", "forced choice: is X this or that?", ({ desk }) => desk.tell("session", "choice")],
  [["r"], "r", "rank by pairs", ({ desk }) => desk.tell("session", "ranking")],
  [["a", "b", "x"], "a b x", "in those: hear A, B or X", ({ desk, event }) => desk.session.hear(event.key), "session"],
  [
    ["A", "B"],
    "⇧A ⇧B",
    "in those: the answer",
    ({ desk, event }) => desk.session.answer(event.key.toLowerCase()),
    "session",
  ],
  [["Escape"], "Esc", "end those", ({ sessions }) => sessions.leave(), "always"],
  ["Look"],
  [["p"], "p", "the next panel: look, map, notes, numbers", ({ panels }) => panels.next(), "always"],
  [["t"], "t", "dark, light, as the system has it", ({ theme }) => theme.next(), "always"],
  [["?", "h"], "?", "these keys", ({ help }) => help.toggle(), "always"],
];

class Keys {
  /** page: what the keys act on. */
  constructor(page) {
    this.page = page;
    this.on = true;
    addEventListener("keydown", (event) => this._down(event));
    // a button that was clicked gives the keys back, so that Space plays
    addEventListener("click", (event) => event.detail > 0 && event.target.closest("button")?.blur());
    // and so does a list that was chosen from, and a slider that was let go
    addEventListener("change", (event) => event.target.matches("#mix, input[type=range]") && event.target.blur());
  }

  _down(event) {
    const { target } = event;
    if (!this.page.desk.ready || event.metaKey || event.isComposing) return;
    // on many keyboards brackets take AltGr, which comes as Ctrl and Alt, or Option
    if ((event.ctrlKey || event.altKey) && !"[]".includes(event.key)) return;
    if (target.matches("input[type=text], textarea") || (target.matches("select, input") && event.key !== "Escape"))
      return;
    if (document.querySelector("dialog[open]") && !["?", "h"].includes(event.key)) return;
    if (target.closest("button, summary, .point") && [" ", "Enter"].includes(event.key)) return;
    if (!this.on && event.key.length === 1 && event.key !== " ") return;
    const entry = this._entry(event);
    if (!entry) return;
    event.preventDefault();
    if (event.repeat && !["-", "+", "=", "ArrowLeft", "ArrowRight"].includes(event.key)) return;
    entry[3]({ ...this.page, event });
  }

  _entry(event) {
    const shifted = event.shiftKey && /^Digit[1-9]$/.test(event.code);
    const session = this.page.desk.session !== null;
    return KEYS.find(([keys, , , , when]) => {
      if (typeof keys === "string" || (session ? when === undefined : when === "session")) return false;
      return shifted ? keys[0] === "⇧1" : keys.includes(event.key);
    });
  }
}

class Help {
  constructor(desk, root, keys) {
    this.root = root;
    desk.watch("mix", () => this._draw(desk, keys));
  }

  _draw(desk, keys) {
    const groups = [];
    for (const [first, ...rest] of KEYS) {
      if (!rest.length) groups.push(Make.html("dl", {}, Make.html("h3", {}, first)));
      else groups.at(-1).append(Make.html("dt", {}, Make.key(rest[0])), Make.html("dd", {}, rest[1]));
    }
    const single = Make.html("input", {
      type: "checkbox",
      checked: keys.on,
      onchange: (event) => (keys.on = event.target.checked),
    });
    const { ahead_s, bytes } = desk.player.window;
    const held = desk.sounds.filter((sound) => sound.kind !== "preview").length;
    this.root.replaceChildren(
      Make.html(
        "form",
        { method: "dialog" },
        Make.html("h2", {}, "Keys"),
        Make.html("button", { class: "go" }, Make.key("Esc"), "close"),
      ),
      Make.html("div", { class: "groups" }, groups),
      Make.html("p", {}, Make.html("label", {}, single, " letters and digits act as keys")),
      Make.html(
        "div",
        { class: "caution" },
        [desk.manifest.caution, ...(desk.manifest.warnings ?? [])].map((text) => Make.html("p", {}, text)),
      ),
      Make.html(
        "p",
        { id: "memory" },
        `Memory: ${ahead_s.toFixed(0)} s of each of ${held} sounds are held at a time, ${Make.megabytes(bytes)} at most, ` +
          "however long they are. Switching takes 10 ms, linear, at equal gain; everything plays from one position.",
      ),
    );
  }

  toggle() {
    if (this.root.open) this.root.close();
    else this.root.showModal();
  }
}
