// Picks are saved as they are made: with the server that gave the page, or in the browser and into a file.

const SOON_MS = 300;
const RETRIES_MS = [2000, 5000, 15000, 60000]; // after one, two ... tries that failed
const WRITTEN_MS = 300_000; // by then a busy browser, or one that asks where to, has written a file; it is small
const MOST_CONFLICTS = 5; // in a row: then something else is wrong

class Saving {
  /** told: {changed(document), state({text, saved: bool, why: what went wrong, or undefined})}. */
  constructor(run, served, told) {
    this.run = run;
    this.served = served;
    this.told = told;
    this.key = `sweeper audition ${run}`;
    this.document = NotesBook.empty(run);
    this.base = this.document; // as it was saved last
    this.timer = null;
    this.saving = null;
    this.conflicts = 0;
    this.failures = 0;
    this.unkept = false; // whether the browser refused to keep what is not saved
    addEventListener("beforeunload", (event) => this.unsaved && this.unkept && event.preventDefault());
    addEventListener("pagehide", () => this._leave());
  }

  get unsaved() {
    return this.document !== this.base;
  }

  /** Reads what was saved before; what this browser kept because it could not be saved comes on top. */
  async open() {
    const kept = this._kept();
    if (this.served) {
      const saved = NotesBook.checked(await this._get(), this.run);
      this.base = saved;
      this.document = kept ? NotesBook.merged(kept.base, kept.document, saved) : saved;
      if (kept) this._soon();
      this._say(kept ? "saving" : "picks are saved as you go", !kept);
    } else {
      this.base = this.document = kept?.document ?? NotesBook.empty(this.run);
      this._say("picks are kept in this browser: save them as a file to hand them on", true);
    }
    this.told.changed(this.document);
  }

  /** change: document -> document. */
  change(change) {
    if (!this.served) this._meet();
    this.document = change(this.document);
    this.told.changed(this.document);
    this._keep();
    if (this.served) return this._soon();
    if (this.unkept)
      return this._say("NOT saved", false, "This browser keeps nothing: save as a file before you leave the page.");
    this.base = this.document;
    return this._say("not in a file yet, kept in this browser", false);
  }

  /** An exported page may be open twice: what the other kept meanwhile is not lost. */
  _meet() {
    const kept = this._kept();
    if (kept) this.document = NotesBook.merged(this.base, this.document, kept.document);
  }

  /** At once: to the server, or as a file that the browser downloads. */
  async now(file_name) {
    if (!this.served) {
      this._download(file_name);
      return this._say(`downloaded as ${file_name}`, true);
    }
    await this._save();
    if (!this.unsaved) return undefined;
    this._download(file_name);
    return this._say(
      "NOT saved",
      false,
      `Not saved with the run, but downloaded as ${file_name}: sweeper shortlist RUN --picks takes it in.`,
    );
  }

  _download(file_name) {
    const document_ = { ...this.document, saved: new Date().toISOString() };
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([JSON.stringify(document_, null, 2)], { type: "application/json" }));
    link.download = file_name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), WRITTEN_MS);
  }

  /** Takes a file of picks in, on top of what is there. Throws Error, in words, where it is none. */
  async take(file) {
    let read;
    try {
      read = JSON.parse(await file.text());
    } catch {
      throw new Error(`${file.name} is no file of picks`);
    }
    const theirs = { ...NotesBook.checked(read, this.run), unfinished: {} }; // it goes on where it was begun
    // what the file says wins over what was there, and nothing that was there is lost
    this.change((ours) => ({ ...NotesBook.merged(NotesBook.empty(this.run), theirs, ours), revision: ours.revision }));
  }

  _soon() {
    this._say("saving", false);
    this._later(SOON_MS);
  }

  _later(after_ms) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this._save(), after_ms);
  }

  async _save() {
    clearTimeout(this.timer);
    if (this.saving) {
      await this.saving;
      if (!this.unsaved) return;
    }
    this.saving = this._put().finally(() => (this.saving = null));
    await this.saving;
    if (this.again) {
      this.again = false;
      await this._save();
    }
  }

  async _put() {
    const sent = this.document;
    try {
      const answer = await this._send(sent, false);
      if (answer.status === 409 && ++this.conflicts <= MOST_CONFLICTS)
        return this._both(NotesBook.checked(await answer.json(), this.run));
      this.conflicts = 0;
      if (!answer.ok) throw new Error(await Saving._refusal(answer));
      this.failures = 0;
      const { revision } = await answer.json();
      this.base = { ...sent, revision };
      if (this.document === sent) this.document = this.base;
      else [this.document, this.again] = [{ ...this.document, revision }, true];
      if (!this.unsaved) Shelf.drop(this.key);
      if (this.unsaved) this._say("saving", false);
      else this._say(`saved at ${new Date().toTimeString().slice(0, 5)}`, true);
    } catch (error) {
      this._later(RETRIES_MS[Math.min(this.failures++, RETRIES_MS.length - 1)]);
      const why = error instanceof TypeError ? "the audition is not served any more" : error.message;
      const kept = this.unkept ? "" : "It is kept in this browser. ";
      this._say("NOT saved", false, `Not saved: ${why}. ${kept}It is tried again by itself, and s writes a file.`);
    }
  }

  /** Why a save was refused, in the server's words where it has some. */
  static async _refusal(answer) {
    if (answer.status === 404) return "this audition has ended: open the one that is served now";
    const told = await answer.json().catch(() => null);
    return told?.error ?? `the server answered ${answer.status} ${answer.statusText}`;
  }

  /** Somebody else saved meanwhile: both go on together. */
  _both(theirs) {
    this.document = NotesBook.merged(this.base, this.document, theirs);
    this.base = theirs;
    this.again = true;
    this.told.changed(this.document);
  }

  _send(document, leaving) {
    return fetch("notes", {
      method: "PUT",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ ...document, saved: new Date().toISOString() }),
      keepalive: leaving,
    });
  }

  async _get() {
    const answer = await fetch("notes", { cache: "no-store" });
    if (!answer.ok) throw new Error(`the picks could not be read: the server answered ${answer.status}`);
    return answer.json();
  }

  _keep() {
    this.unkept = !Shelf.put(this.key, JSON.stringify({ base: this.base, document: this.document }));
  }

  _kept() {
    try {
      const kept = JSON.parse(Shelf.get(this.key));
      return (
        kept && { base: NotesBook.checked(kept.base, this.run), document: NotesBook.checked(kept.document, this.run) }
      );
    } catch {
      return null; // nothing was kept, or it cannot be read
    }
  }

  /** The page goes away with something unsaved: the browser sends it on its own. It is kept here as well. */
  _leave() {
    if (this.served && this.unsaved) this._send(this.document, true).catch(() => {});
  }

  _say(text, saved, why) {
    this.told.state({ text, saved, why });
  }
}
