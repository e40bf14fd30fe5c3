"""Stages outside the machine: what goes out is written, what has come back is taken in; until then the run waits.

    outside/tape-3f2a91c0.wav     what is sent out, 32-bit float
    outside/tape-3f2a91c0.json    what made it, and what came back
    outside/tape-3f2a91c0 *.*     what came back: the engineer's file, never touched
    outside/steps/                what came back, aligned: a step like those of the store
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from sweeper.audio import audio_hash, inspect
from sweeper.chain.model import Chain
from sweeper.errors import AudioFileError, AwaitingReturn, SweeperError
from sweeper.host.setup import StageSetup
from sweeper.plan.tree import Facts, WayStep, applied, outside_name, recipe
from sweeper.plan.variants import Variant
from sweeper.records.reading import read
from sweeper.render.desk import Desk
from sweeper.render.folder import RunFolder, slug
from sweeper.render.job import BLOCK_FRAMES, KnownFile, MixFile, StepJob, StoredStep
from sweeper.render.outside_orders import SendOrder, Sent, Taken, TakeOrder
from sweeper.render.store import open_entry
from sweeper.workers import Failed, Task, value_of

FOLDER = "outside"
#: What comes back is a file with one of these endings.
SOUND_ENDINGS = frozenset({".wav", ".wave", ".bwf", ".rf64", ".w64", ".aif", ".aiff", ".aifc", ".caf", ".flac"})
STEPS = "outside/steps"


@dataclass(frozen=True)
class Back:
    """What has come back. facts: with it. steps: the key of each step that it is -> the folder where it lies."""

    facts: Facts
    steps: Mapping[str, Path] = field(default_factory=dict)


@dataclass(frozen=True)
class _Going:
    """One sending out. covered: the stages before it; start: the outside step before, None = the mix."""

    variant: Variant
    setup: StageSetup
    step: WayStep
    covered: int
    start: StoredStep | None

    @property
    def stem(self) -> str:
        """The name of its files."""
        return f"{slug(self.setup.name)}-{self.step.key_before[:8]}"


@dataclass(frozen=True)
class _Account:
    """What stands in the JSON file of one sending out."""

    stage: str
    input: str
    sent: Sent
    taken: tuple[Taken, ...] = ()


def goes_out(found: Sequence[Variant]) -> bool:
    """Whether any variant has a stage outside."""
    return any(setup.outside and not setup.bypass for variant in found for setup in variant.stages)


def brought_back(chain: Chain, found: Sequence[Variant], facts: Facts, mixes: Sequence[MixFile],
                 known: Mapping[str, KnownFile], folder: RunFolder, desk: Desk) -> Back:  # fmt: skip
    """Send out everything that has to go out, and take in everything that has come back.

    Raises AwaitingReturn, in words what to do, while something is missing; AudioFileError for what cannot be it.
    """
    back = Back(facts)
    while going := _going(found, back):
        folder.subfolder(FOLDER)
        steps = folder.subfolder(STEPS)
        accounts = _sent(going, mixes, known, folder, desk)
        taken = _taken(chain, going, accounts, back.facts, folder, desk)
        returned = {outside_name(one.setup, one.step.key_before): came.audio_sha256
                    for one, came in zip(going, taken, strict=True)}  # fmt: skip
        back = Back(replace(back.facts, returned={**back.facts.returned, **returned}),
                    {**back.steps, **{came.key: steps for came in taken}})  # fmt: skip
    return back


def _going(found: Sequence[Variant], back: Back) -> list[_Going]:
    """Every sending out that is due and that nothing has come back of, once each."""
    due: dict[str, _Going] = {}
    for variant in found:
        covered, start = 0, None
        for step in applied(variant, back.facts):
            if step.setups[0].outside and not step.is_back:
                name = outside_name(step.setups[0], step.key_before)
                due.setdefault(name, _Going(variant, step.setups[0], step, covered, start))
                break
            covered = step.covered
            if step.is_back:
                start = StoredStep(back.steps[step.key], step.key, covered)
    return list(due.values())


def _sent(going: Sequence[_Going], mixes: Sequence[MixFile], known: Mapping[str, KnownFile], folder: RunFolder,
          desk: Desk) -> list[_Account]:  # fmt: skip
    """The account of every sending out; what was not written yet is written now."""
    accounts = {one.stem: _read(folder, one) for one in going}
    tasks = []
    for one in going:
        if accounts[one.stem] is None:
            target = StoredStep(Path(), "", one.covered)
            job = StepJob(mixes[one.variant.mix], one.variant.stages[: one.covered], target, desk.patience_s,
                          BLOCK_FRAMES, one.start, known)  # fmt: skip
            order = SendOrder(job, folder.path.absolute() / FOLDER / f"{one.stem}.wav", one.setup.input_trim_db, "")
            order.file.unlink(missing_ok=True)  # one without an account was never finished
            where = f"what goes to '{one.setup.name}'"
            tasks.append(Task(one.stem, "sweeper.render.outside_tasks:send_out", order, where))
    for outcome in desk.pool.map_in_order(tasks):
        sent = value_of(outcome, Sent, _ended)
        one = next(one for one in going if one.stem == outcome.key)
        accounts[one.stem] = _Account(one.setup.name, one.step.key_before, sent)
        _write(folder, one, accounts[one.stem])
    return [account for account in accounts.values() if account is not None]


def _taken(chain: Chain, going: Sequence[_Going], accounts: Sequence[_Account], facts: Facts, folder: RunFolder,
           desk: Desk) -> list[Taken]:  # fmt: skip
    """What came back of each. Raises AwaitingReturn for what is missing."""
    found: dict[str, Taken] = {}
    missing: list[_Going] = []
    tasks = []
    for one, account in zip(going, accounts, strict=True):
        file = _came_back(chain, one, folder)
        if account.taken and _is_whole(folder, account.taken[0]):
            _refuse_another_take(account.taken[0], file)
            found[one.stem] = account.taken[0]
            continue
        if file is None:
            missing.append(one)
            continue
        order = TakeOrder(one.setup, file, folder.path.absolute() / FOLDER / f"{one.stem}.wav", account.sent,
                          folder.path.absolute() / STEPS, one.step.key_before, recipe([one.setup], facts))  # fmt: skip
        tasks.append(Task(one.stem, "sweeper.render.outside_tasks:take_in", order, file.name))
    by_stem = dict(zip((one.stem for one in going), zip(going, accounts, strict=True), strict=True))
    for outcome in desk.pool.map_in_order(tasks):
        taken = value_of(outcome, Taken, _ended)
        one, account = by_stem[outcome.key]
        found[one.stem] = taken
        _write(folder, one, replace(account, taken=(taken,)))
        folder.log({"event": "came back", "stage": one.setup.name, "file": taken.file, "notes": list(taken.notes)})
    if missing:
        raise _awaiting(chain, missing, folder)
    return [found[one.stem] for one in going]


def _ended(failed: Failed) -> Exception:
    return failed.error or SweeperError(f"{failed.key}: the worker {failed.what}", "try again")


def _came_back(chain: Chain, one: _Going, folder: RunFolder) -> Path | None:
    """The file that came back of a sending out: named like what was sent, with something added."""
    stage = next(stage for stage in chain.stages if stage.name == one.setup.name)
    own = folder.path.absolute() / FOLDER
    places = [own, *([stage.returned] if stage.returned else [])]
    files = [file for place in places for file in _named_like(place, one.stem) if file.is_file()]
    if len(files) > 1:
        listed = " and ".join(str(file) for file in files)
        raise AudioFileError(f"of '{one.setup.name}' more than one has come back: {listed}", "leave one of them there")
    return files[0] if files else None


def _named_like(place: Path, stem: str) -> Iterator[Path]:
    try:
        entries = sorted(place.iterdir())
    except OSError:  # it was there when the chain file was read
        return
    for file in entries:
        is_sound = file.suffix.lower() in SOUND_ENDINGS  # editors put files of their own beside those they play
        if is_sound and file.stem.lower().startswith(stem) and file.stem.lower() != stem:
            yield file


def _refuse_another_take(taken: Taken, file: Path | None) -> None:
    """Variants of one run are made of one take. One that is not there any more is no matter: the run has its sound."""
    if file is not None and audio_hash(inspect(file)) != taken.audio_sha256:
        raise AudioFileError(f"{file}: it is not the recording that this run was made of so far",
                             "put that one back; for a new one, start a new run of the chain file")  # fmt: skip


def _awaiting(chain: Chain, missing: Sequence[_Going], folder: RunFolder) -> AwaitingReturn:
    files = "\n".join(f"    {folder.path / FOLDER / one.stem}.wav   ({one.setup.outside})" for one in missing)
    many = f"{len(missing)} files wait" if len(missing) > 1 else "one file waits"
    elsewhere = {stage.returned for stage in chain.stages if stage.outside and stage.returned}
    places = " or in ".join(["beside it", *sorted(map(str, elsewhere))])
    stem = missing[0].stem
    return AwaitingReturn(
        f"{many} to be sent out and come back:\n{files}",
        f"play each through, record it whole at the same rate, and save it {places} under the same name with "
        f'something added, e.g. "{stem} back.wav"; then: sweeper run {folder.path}',
    )


def _is_whole(folder: RunFolder, taken: Taken) -> bool:
    try:
        open_entry(folder.path.absolute() / STEPS, taken.key)
    except SweeperError:  # damaged or gone: it is taken in once more from the engineer's file
        return False
    return True


def _read(folder: RunFolder, one: _Going) -> _Account | None:
    path = folder.path / FOLDER / f"{one.stem}.json"
    try:
        account = read(_Account, json.loads(path.read_text("utf-8")))
    except (OSError, ValueError):  # not written yet, or not by this version: it is sent out anew
        return None
    there = (folder.path / FOLDER / f"{one.stem}.wav").is_file()
    return account if there and account.input == one.step.key_before else None


def _write(folder: RunFolder, one: _Going, account: _Account | None) -> None:
    assert account is not None
    folder.write_json(f"{FOLDER}/{one.stem}.json", dataclasses.asdict(account))
