"""What workers do with sound that leaves the machine: write what goes out, take in what comes back. Runs in workers."""

from __future__ import annotations

import gc
import hashlib
from collections.abc import Iterator

import numpy as np

from sweeper.audio import AudioFormat, BroadcastTag, SoundFile, WavWriter, audio_hash, blocks, inspect
from sweeper.errors import AudioFileError
from sweeper.meter.offset import Offset, offset_of
from sweeper.plan.tree import step_key
from sweeper.records import Returned, StageRecord
from sweeper.render.outside_orders import SendOrder, Sent, Taken, TakeOrder
from sweeper.render.room import FILE_PATIENCE_S, Room, chunk_frames
from sweeper.render.store import write_entry
from sweeper.render.stream import render
from sweeper.units import clock, gain
from sweeper.workers import Report

#: How far off what comes back is looked for, either way; how much of it is held against what was sent, roughly at
#: about this rate, then to the sample.
MOST_OFF_S, HELD_S, ROUGH_RATE_HZ, FINE_S = 30.0, 10.0, 2000, 0.25
#: How far two clocks may be apart for the difference to be measured: 200 parts in a million.
MOST_OFF_CLOCK = 2e-4
#: Below this likeness it is another music. A chain of heavy EQ and saturation stays well above it.
LEAST_LIKE = 0.2
#: How far its clock may run off over the whole length, in frames: no more than a sample.
MOST_DRIFT_FRAMES = 1.5
#: How much may be missing at the end before it is refused.
MOST_MISSING_S = 1.0
_BLOCK_FRAMES = 65536


def send_out(order: SendOrder, report: Report) -> Sent:
    """Write what is to be sent out. Raises as Room does, and RunFolderError."""
    room = Room(order.job, report)
    digest = hashlib.sha256()
    factor = np.float32(gain(order.gain_db))
    try:
        with WavWriter(order.file, room.format.channels, room.format.rate_hz, digest=digest) as writer:
            report.phase("rendering what is sent out", order.job.patience_s)

            def sink(block: np.ndarray) -> None:
                writer.write(block if factor == 1 else block * factor)

            notes = render(room.stages, room.input(), room.frames, order.job.block_frames, sink, room.progress)
            frames = writer.frames
            writer.commit(BroadcastTag(order.tag, "", ""))
        made_by = tuple(record for record in room.records() if not record.bypass)
        return Sent(digest.hexdigest(), frames, room.format.rate_hz, room.format.channels, made_by, room.notes(notes))
    finally:
        gc.collect()  # plugins of an earlier task must not pile up, nor end in another thread later


def take_in(order: TakeOrder, report: Report) -> Taken:
    """Align what came back with what was sent, and store it as the step that the outside stage is.

    Raises AudioFileError, in words, for what cannot be it; StoreError.
    """
    report.phase(f"taking in {order.file.name}", FILE_PATIENCE_S)
    sent, got = inspect(order.sent_file), inspect(order.file)
    _refuse_another_kind(sent, got)
    offset, drift_frames = _found(sent, got, report)
    sha256 = audio_hash(got)
    start = round(offset.frames)
    wanted = sent.frames + round(order.setup.tail_s * sent.format.rate_hz)
    missing = max(0, start + sent.frames - got.frames)
    if missing > MOST_MISSING_S * sent.format.rate_hz:
        raise AudioFileError(f"{order.file}: it ends {clock(missing / sent.format.rate_hz)} before the music does",
                             "record it to the end, and put it in the place of this one")  # fmt: skip
    notes = tuple(_notes(order, offset, drift_frames, missing, got))
    key = step_key(order.before, order.recipe, sha256)
    digest = hashlib.sha256()
    format = AudioFormat(sent.format.channels, sent.format.rate_hz)
    with write_entry(order.folder, key, format) as entry:
        for block in _aligned(got, start, wanted, gain(order.setup.output_trim_db)):
            entry.write(block)
            digest.update(np.ascontiguousarray(block.T, "<f4").tobytes())
            report.beat()
        returned = Returned(str(order.file.absolute()), sha256, digest.hexdigest(), order.sent.audio_sha256,
                            offset.frames, offset.inverted)  # fmt: skip
        entry.commit((*order.sent.stages, _record(order, returned)), (*order.sent.notes, *notes), 0.0)
    return Taken(key, sha256, str(order.file.absolute()), notes)


def _refuse_another_kind(sent: SoundFile, got: SoundFile) -> None:
    if got.format.rate_hz != sent.format.rate_hz:
        raise AudioFileError(f"{got.path}: it is at {got.format.rate_hz} Hz, and {sent.format.rate_hz} Hz was sent out",
                             "record it at the rate of what was sent out")  # fmt: skip
    if got.format.channels != sent.format.channels:
        raise AudioFileError(f"{got.path}: it has {got.format.channels} channels, and {sent.format.channels} were sent",
                             "record the same channels")  # fmt: skip


def _found(sent: SoundFile, got: SoundFile, report: Report) -> tuple[Offset, float]:
    """Where what was sent lies in what came back, and by how many frames that changes from one place to another.

    Roughly first, over a long stretch at a low rate, where another clock does no harm; then to the sample over a short
    one, where it does none either.
    """
    found = []
    for place in _loud_places(sent, min(sent.frames, round(HELD_S * sent.format.rate_hz))):
        found.append(_offset_at(sent, got, place))
        report.beat()
    alike = [offset for offset in found if offset.likeness >= LEAST_LIKE]
    if not alike:
        raise AudioFileError(f"{got.path}: it is not like what was sent out ({sent.path.name})",
                             "is it the recording of another file? Put the right one in its place")  # fmt: skip
    drift_frames = max(offset.frames for offset in alike) - min(offset.frames for offset in alike)
    if drift_frames > MOST_DRIFT_FRAMES:
        raise AudioFileError(f"{got.path}: it runs off by {drift_frames:.1f} frames against what was sent out",
                             "play and record on one clock, and put the new recording in its place")  # fmt: skip
    return max(alike, key=lambda offset: offset.likeness), drift_frames


def _loud_places(sent: SoundFile, held: int) -> list[int]:
    """Where the loudest stretches of the whole, of its first and of its last third begin; one for a short file."""
    if sent.frames < 3 * held:
        return [_loudest(sent, 0, sent.frames, held)]
    third = sent.frames // 3
    spans = [(0, sent.frames), (0, third), (sent.frames - third, sent.frames)]
    return [_loudest(sent, start, end, held) for start, end in spans]


def _loudest(sent: SoundFile, start: int, end: int, held: int) -> int:
    step = max(1, held // 8)
    powers = np.array([float((block.astype(np.float64) ** 2).sum()) for block in blocks(sent, step, start, end)])
    if len(powers) <= 8:
        return start
    windows = np.convolve(powers, np.ones(8), "valid")
    return min(start + int(np.argmax(windows)) * step, end - held)


def _offset_at(sent: SoundFile, got: SoundFile, place: int) -> Offset:
    """Where the stretch of `sent` from `place` on lies in `got`; no likeness where it is not in it."""
    rate_hz = sent.format.rate_hz
    slower = max(1, rate_hz // ROUGH_RATE_HZ)
    held, most = round(HELD_S * rate_hz), round(MOST_OFF_S * rate_hz)
    rough = _offset_in(sent, got, place, held, -most, most, slower)
    fine, near = round(FINE_S * rate_hz), round(rough.frames)
    middle = _loudest(sent, place, min(sent.frames, place + held), min(fine, sent.frames - place))
    around = 4 * slower + round(MOST_OFF_CLOCK * held)
    return _offset_in(sent, got, middle, fine, near - around, near + around, 1)


def _offset_in(sent: SoundFile, got: SoundFile, place: int, held: int, least: int, most: int, slower: int) -> Offset:
    """The offset of a stretch, looked for from `least` to `most` frames; at a rate that many times slower."""
    first, last = max(0, place + least), min(got.frames, place + held + most)
    one = _slowed(_read(sent, place, min(sent.frames, place + held)), slower)
    if last - first < slower * one.shape[1] // 2 or one.shape[1] < 2:
        return Offset(0.0, 0.0, False)
    other, moved = _slowed(_read(got, first, last), slower), first - place
    offset = offset_of(one, other, (least - moved) // slower, (most - moved) // slower)
    return Offset(offset.frames * slower + moved, offset.likeness, offset.inverted)


def _slowed(samples: np.ndarray, slower: int) -> np.ndarray:
    """The mean of every `slower` samples: a lower rate, with what is above it damped."""
    whole = samples.shape[1] // slower * slower
    means: np.ndarray = samples[:, :whole].reshape(len(samples), -1, slower).mean(axis=2)
    return means


def _read(file: SoundFile, start: int, end: int) -> np.ndarray:
    return np.concatenate(list(blocks(file, _BLOCK_FRAMES, start, end)), axis=1)


def _aligned(got: SoundFile, start: int, frames: int, factor: float) -> Iterator[np.ndarray]:
    """What came back from frame `start` on, with silence where it has nothing, exactly `frames` frames."""
    size = chunk_frames(got.format.rate_hz, 1024)
    channels = got.format.channels
    lead = min(frames, max(0, -start))
    given = 0
    if lead:
        yield np.zeros((channels, lead), np.float32)
        given = lead
    for block in blocks(got, size, max(0, start), min(got.frames, start + frames)):
        scaled = block.astype(np.float32) * np.float32(factor)
        yield scaled
        given += block.shape[1]
    while given < frames:
        more = min(size, frames - given)
        yield np.zeros((channels, more), np.float32)
        given += more


def _notes(order: TakeOrder, offset: Offset, drift_frames: float, missing: int, got: SoundFile) -> Iterator[str]:
    name = f"'{order.setup.name}' (outside)"
    if offset.inverted:
        yield f"{name}: the polarity of what came back is turned round; it is used as it is"
    if abs(offset.frames - round(offset.frames)) > 0.2:
        yield f"{name}: what came back lies {offset.frames - round(offset.frames):+.2f} frames off the sample grid"
    if drift_frames > 0.5:
        yield f"{name}: what came back runs off by {drift_frames:.1f} frames over its length"
    if missing:
        yield f"{name}: what came back ends {1000 * missing / got.format.rate_hz:.0f} ms early; silence fills it"


def _record(order: TakeOrder, returned: Returned) -> StageRecord:
    setup = order.setup
    return StageRecord(
        name=setup.name, plugin="", path="", maker="", version="", identifier="", program_sha256="", state_file="",
        state_sha256="", channels=setup.channels.value, bypass=False, input_trim_db=setup.input_trim_db,
        output_trim_db=setup.output_trim_db, latency_frames=0, settings=(), standing=(), output=setup.output,
        tail_s=setup.tail_s, outside=setup.outside, returned=(returned,),
    )  # fmt: skip
