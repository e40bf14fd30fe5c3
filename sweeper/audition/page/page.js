// Puts the page together.

const THEMES = ["system", "dark", "light"];

class Theme {
  constructor(button, name) {
    this.name = name;
    this.theme = Shelf.get("sweeper theme") ?? "system";
    button.addEventListener("click", () => this.next());
    this._show();
  }

  next() {
    this.theme = THEMES[(THEMES.indexOf(this.theme) + 1) % THEMES.length];
    Shelf.put("sweeper theme", this.theme);
    this._show();
  }

  _show() {
    if (this.theme === "system") delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = this.theme;
    this.name.textContent = this.theme;
  }
}

/** The texts of a script element, which is removed: what it holds has names. */
function taken(id) {
  const element = document.getElementById(id);
  element.remove();
  return element.textContent;
}

function head(desk) {
  const at = (id) => document.getElementById(id);
  const { manifest, served, saving } = desk;
  document.title = `${manifest.title}: audition`;
  at("title").textContent = manifest.title;
  at("caution").textContent = manifest.caution;
  const mixes = manifest.mixes.map((mix) => Make.html("option", { value: mix.number }, mix.name));
  at("mix").append(...mixes);
  at("mixes").hidden = mixes.length < 2;
  at("mix").addEventListener("change", (event) => desk.to_mix(Number(event.target.value)));
  at("save").append(Make.key("s"), served ? "save" : "save as a file");
  at("save").addEventListener("click", () => saving.now(manifest.notes_file_name));
  at("load").hidden = served;
  at("file").addEventListener("change", async (event) => {
    const [file] = event.target.files;
    event.target.value = "";
    if (file)
      await saving.take(file).then(
        () => desk.say(`picks taken from ${file.name}`),
        (error) => desk.say(error.message),
      );
  });
  for (const text of manifest.warnings ?? []) at("warnings").append(Make.html("p", {}, text));
  desk.watch("saved", ({ text, saved, why }) => {
    at("saved").textContent = at("saved").title = text;
    at("saved").className = saved ? "" : "unsaved";
    at("unsaved").hidden = !why;
    if (at("unsaved").textContent !== (why ?? "")) at("unsaved").textContent = why ?? ""; // or it would be read out again
  });
  desk.watch("playing", () => {
    if (desk.playing) at("caution").hidden = at("warnings").hidden = true; // they stand in the list of keys from then on
  });
  desk.watch("problem", (text) => {
    at("alarm").hidden = !text;
    if (at("alarm").textContent !== (text ?? "")) at("alarm").textContent = text ?? ""; // or it would be read out again
  });
}

/** What is said is shown for a while as well: refusals are for the eye too. */
function voice(desk) {
  const said = document.getElementById("said");
  desk.watch("said", (text) => {
    said.textContent = text;
  });
}

async function audition() {
  const at = (id) => document.getElementById(id);
  const desk = new Desk(JSON.parse(taken("audition")), taken("worklet"));
  head(desk);
  voice(desk);
  new Timeline(desk, at("timeline"));
  new Tiles(desk, at("tiles"));
  new Sections(desk, at("sections"));
  new Transport(desk, at("transport"), at("monitor"));
  const page = { desk, theme: new Theme(at("theme"), at("theme-name")) };
  page.sessions = new Sessions(desk, at("session"));
  page.verdicts = new Verdicts(desk, at("verdict"));
  page.panels = new Panels(desk, at("tabs"), at("panel"));
  const keys = new Keys(page);
  page.help = new Help(desk, at("help"), keys);
  at("help-open").addEventListener("click", () => page.help.toggle());
  await desk.open();
  document.documentElement.dataset.ready = "yes";
}

audition().catch((error) => {
  const alarm = document.getElementById("alarm");
  alarm.hidden = false;
  alarm.textContent = `The page cannot go on: ${error.message}. Load it again; if that does not help, start the audition again.`;
});
