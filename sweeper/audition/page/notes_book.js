// The picks document: verdicts, notes, forced choices and ranking, as plain data; what changes it, and how two that
// went apart become one. Documents are never changed in place.

const VERDICTS = ["keep", "maybe", "drop"];

const NotesBook = {
  empty: (run) => ({ schema: 1, run, saved: "", picks: {}, trials: [], ranking: {}, unfinished: {}, revision: 0 }),

  /** The document that a file or server gave. Throws Error, in words, where it is none, or of another run. */
  checked(document, run) {
    const is = (value) => value !== null && typeof value === "object" && !Array.isArray(value);
    if (!is(document) || document.schema !== 1 || !is(document.picks ?? {}))
      throw new Error("this is no file of picks that this page can read (schema 1)");
    const mark = (name) => String(name).split("#").at(-1); // it stays when the folder is renamed
    if (mark(document.run) !== mark(run)) throw new Error(`these picks are of another run: ${document.run}`);
    return { ...NotesBook.empty(run), ...document };
  },

  verdict: (document, id) => document.picks[id]?.verdict || null,
  notes: (document, id) => document.picks[id]?.notes ?? [],

  /** The same verdict again takes it back. */
  withVerdict(document, id, verdict) {
    const same = NotesBook.verdict(document, id) === verdict;
    return NotesBook._withPick(document, id, { verdict: same ? null : verdict });
  },

  withNote(document, id, note) {
    const notes = [...NotesBook.notes(document, id), note];
    return NotesBook._withPick(document, id, { notes: NotesBook._inTime(notes) });
  },

  withoutNote(document, id, place) {
    return NotesBook._withPick(document, id, { notes: NotesBook.notes(document, id).filter((_, i) => i !== place) });
  },

  withTrial: (document, trial) => ({ ...document, trials: [...document.trials, trial] }),
  withRanking: (document, mix, ranking) => ({ ...document, ranking: { ...document.ranking, [mix]: ranking } }),

  /** What was begun of a mix and not ended: {choice, ranking}, each as its view keeps it, or undefined. */
  unfinished: (document, mix) => document.unfinished[mix] ?? {},

  /** kind: "choice" or "ranking". what: null = it is over. */
  withUnfinished(document, mix, kind, what) {
    const { [kind]: _, ...others } = NotesBook.unfinished(document, mix);
    const of_mix = what ? { ...others, [kind]: what } : others;
    const { [mix]: __, ...unfinished } = document.unfinished;
    if (Object.keys(of_mix).length) unfinished[mix] = of_mix;
    return { ...document, unfinished };
  },

  /** A pick that says nothing is none. */
  _withPick(document, id, change) {
    const pick = { verdict: null, notes: [], ...document.picks[id], ...change };
    const picks = { ...document.picks, [id]: pick };
    if (pick.verdict === null && !pick.notes.length) delete picks[id];
    return { ...document, picks };
  },

  _inTime: (notes) => [...notes].sort((a, b) => (a.at_s ?? -1) - (b.at_s ?? -1)),

  /**
   * What was changed here, on top of what was saved elsewhere meanwhile. base: what both began with. A verdict, a ranking or
   * what is unfinished wins where it was changed here; notes and trials of both are kept, and gone is what either took away.
   */
  merged(base, ours, theirs) {
    const pick_ids = new Set([base, ours, theirs].flatMap((document) => Object.keys(document.picks)));
    const picks = {};
    for (const id of pick_ids) {
      const [b, o, t] = [base, ours, theirs].map((document) => NotesBook.verdict(document, id));
      const notes = NotesBook._union(...[base, ours, theirs].map((document) => NotesBook.notes(document, id)));
      const pick = { verdict: o !== b ? o : t, notes: NotesBook._inTime(notes) };
      if (pick.verdict !== null || pick.notes.length) picks[id] = pick;
    }
    const ranking = NotesBook._changed(base.ranking, ours.ranking, theirs.ranking);
    const unfinished = NotesBook._changed(base.unfinished, ours.unfinished, theirs.unfinished);
    return { ...theirs, picks, ranking, unfinished, trials: NotesBook._union(base.trials, ours.trials, theirs.trials) };
  },

  /** Their entries, with what was changed, added or taken away here. */
  _changed(base, ours, theirs) {
    const changed = { ...theirs };
    for (const key of new Set([...Object.keys(base), ...Object.keys(ours)])) {
      if (JSON.stringify(ours[key]) === JSON.stringify(base[key])) continue;
      if (ours[key] === undefined) delete changed[key];
      else changed[key] = ours[key];
    }
    return changed;
  },

  /** Of lists without order: what both have, and what one of them added to the base. */
  _union(base, ours, theirs) {
    const key = (entry) => JSON.stringify(entry, Object.keys(entry).sort());
    const [was, here, there] = [base, ours, theirs].map((list) => new Set(list.map(key)));
    const kept = theirs.filter((entry) => here.has(key(entry)) || !was.has(key(entry)));
    return [...kept, ...ours.filter((entry) => !there.has(key(entry)) && !was.has(key(entry)))];
  },
};
