"""What workers do with sound that leaves the machine: write what goes out, take in what comes back. Runs in workers."""

from __future__ import annotations

import gc
import hashlib
from collections.abc import Iterator

import numpy as np

from sweeper.audio import AudioFormat, BroadcastTag, SoundFile, WavWriter, audio_hash, blocks, inspect
from sweeper.errors import AudioFileError
from sweeper.host.setup import StageSetup
from sweeper.plan.tree import step_key
from sweeper.records import Returned, StageRecord
from sweeper.render.job import BLOCK_FRAMES
from sweeper.render.orders import FILE_BLOCK_FRAMES, FILE_PATIENCE_S
from sweeper.render.outside_orders import SendOrder, Sent, Taken, TakeOrder
from sweeper.render.room import Room, chunk_frames
from sweeper.render.store import write_entry
from sweeper.render.stream import render
from sweeper.render.whereabouts import SIDES, Whereabouts, whereabouts
from sweeper.units import gain
from sweeper.workers import Report

#: How far a clock may run off over the whole length without a remark, and how far off the grid of samples what came
#: back may lie, in frames. Ours, not tried otherwise.
STEADY_FRAMES = 1.5
OFF_GRID_FRAMES = 0.2


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
    report.beat()
    lies = whereabouts(sent, got, report.beat)
    sha256 = audio_hash(got)
    start = round(lies.offset_frames)
    wanted = sent.frames + round(order.setup.tail_s * sent.format.rate_hz)
    notes = tuple(f"'{order.setup.name}' (outside): {words}" for words in _remarks(order.setup, lies, sent, got))
    key = step_key(order.before, order.recipe, sha256)
    digest = hashlib.sha256()
    format = AudioFormat(sent.format.channels, sent.format.rate_hz)
    with write_entry(order.folder, key, format) as entry:
        for block in _aligned(got, start, wanted, _factor(order.setup)):
            entry.write(block)
            digest.update(np.ascontiguousarray(block.T, "<f4").tobytes())
            report.beat()
        returned = Returned(str(order.file.absolute()), sha256, digest.hexdigest(), order.sent.audio_sha256,
                            lies.offset_frames, all(lies.inverted))  # fmt: skip
        entry.commit((*order.sent.stages, _record(order, returned)), (*order.sent.notes, *notes), 0.0)
    return Taken(key, sha256, str(order.file.absolute()), notes)


def _factor(setup: StageSetup) -> float:
    return gain(setup.output_trim_db) * (-1 if setup.inverted else 1)


def _refuse_another_kind(sent: SoundFile, got: SoundFile) -> None:
    if got.format.rate_hz != sent.format.rate_hz:
        raise AudioFileError(f"{got.path}: it is at {got.format.rate_hz} Hz, and {sent.format.rate_hz} Hz was sent out",
                             "record it at the rate of what was sent out")  # fmt: skip
    if got.format.channels != sent.format.channels:
        raise AudioFileError(f"{got.path}: it has {got.format.channels} channels, and {sent.format.channels} were sent",
                             "record the same channels")  # fmt: skip


def _aligned(got: SoundFile, start: int, frames: int, factor: float) -> Iterator[np.ndarray]:
    """What came back from frame `start` on, with silence where it has nothing, exactly `frames` frames."""
    size = chunk_frames(got.format.rate_hz, BLOCK_FRAMES)
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


def _remarks(setup: StageSetup, lies: Whereabouts, sent: SoundFile, got: SoundFile) -> Iterator[str]:
    """What an engineer should know of what came back."""
    offset, rate_hz = lies.offset_frames, sent.format.rate_hz
    if all(lies.inverted):
        mend = "it is turned back" if setup.inverted else "`polarity: inverted` in the stage turns it back"
        yield f"the polarity of what came back is turned round; {mend}"
    elif any(lies.inverted):
        side = SIDES[lies.inverted.index(True)]
        yield (f"the {side} channel of what came back is turned over, the other one is not: a cable is wired the other "
               "way round; mend it, and record it again")  # fmt: skip
    if abs(offset - round(offset)) > OFF_GRID_FRAMES:
        yield f"what came back lies {offset - round(offset):+.2f} frames off the sample grid"
    if lies.drift_frames > STEADY_FRAMES:
        yield (f"what came back runs off by {lies.drift_frames:.1f} frames over its length: it was played and "
               "recorded on two clocks, or went through a tape")  # fmt: skip
    if lies.missing_head:
        yield f"what came back begins {1000 * lies.missing_head / rate_hz:.0f} ms late; silence fills it"
    if lies.missing_end:
        yield f"what came back ends {1000 * lies.missing_end / rate_hz:.0f} ms early; silence fills it"
    if full := _at_full_scale(got):
        yield f"{full} samples of what came back are at full scale: the converter was driven over"


def _at_full_scale(got: SoundFile) -> int:
    top = got.format.full_scale
    return sum(int(np.count_nonzero(np.abs(block) >= top)) for block in blocks(got, FILE_BLOCK_FRAMES))


def _record(order: TakeOrder, returned: Returned) -> StageRecord:
    setup = order.setup
    return StageRecord(
        name=setup.name, plugin="", path="", maker="", version="", identifier="", program_sha256="", state_file="",
        state_sha256="", channels=setup.channels.value, bypass=False, input_trim_db=setup.input_trim_db,
        output_trim_db=setup.output_trim_db, latency_frames=0, settings=(), standing=(), output=setup.output,
        tail_s=setup.tail_s, inverted=setup.inverted, outside=setup.outside, returned=(returned,),
    )  # fmt: skip
