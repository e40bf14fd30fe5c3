"""Two compared files on the terminal: the verdict first, then level, time, measurements, spectrum, image."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.markup import escape
from rich.table import Table

from sweeper.audio.null import Null
from sweeper.cli.compared_data import differences, within
from sweeper.cli.lines import columns
from sweeper.cli.streams import out
from sweeper.meter.quiet_copy import LOST, LOUDEST_S, WORKING_DB
from sweeper.meter.thirds import NOMINAL_HZ
from sweeper.quantities import OF_FILES
from sweeper.recall.repeating import Unsteady
from sweeper.records import Sheet
from sweeper.render.comparison import Compared, Deep
from sweeper.units import clock

LEVELLED_BY = {
    "loudness_lufs": "loudness", "null": "what nulls best",
    "rms_dbfs": "RMS, as one is too short or too quiet for loudness",
}  # fmt: skip
SIDES = ("left", "right")
BANDS_A_LINE = 11
CELL = 6
#: What an offset takes away at the ends is not told below this.
LEAST_CUT_S = 0.05
#: A smaller change of balance in three seconds is not told. Ours.
LEAST_SHIFT_DB = 0.05


def show_compared(found: Compared, sheets: Sequence[Sheet | None], unsteady: Sequence[Unsteady]) -> None:
    """What B is to A. sheets: of A and of B. unsteady: the stages behind them that do not repeat."""
    console = out()
    for line in (*verdict(found), *steady_words(found, unsteady)):
        console.print(escape(line), soft_wrap=True)
    for letter, sheet in zip("AB", sheets, strict=True):
        if sheet is not None:
            console.print(escape(f"{letter} is variant {sheet.variant} of {sheet.title}"), soft_wrap=True)
    console.print(_table(found))
    if found.deep is not None:
        for line in inside_words(found.deep, found.one.format.rate_hz):
            console.print(escape(line), soft_wrap=True)
    if not found.identical:
        for line in (*spectrum_lines(found.thirds_db), *image_words(found)):
            console.print(escape(line), soft_wrap=True)


def verdict(found: Compared) -> Iterator[str]:
    """The answer in a few lines, the most important first."""
    if found.identical:
        yield "identical, sample for sample"
        return
    if found.alignment is None:
        yield "different: B is not like A anywhere within 30 s, so that nothing can be aligned or nulled"
    elif found.same_when_aligned:
        yield f"the same but for level and time: {left_words(found)}"
    else:
        yield f"different: {left_words(found)}"
    yield level_words(found)
    yield from time_words(found)
    yield from _length_words(found)
    as_is = found.as_is
    if found.null is not None and as_is.peak_dbfs is not None and as_is.peak_dbfs != found.null.peak_dbfs:
        yield f"as they are, a null test leaves {_peak_words(as_is, found)}"


def left_words(found: Compared) -> str:
    """What the null test leaves once both are aligned and as loud."""
    null, left_db = found.null, found.left_db
    assert null is not None
    below = "" if left_db is None else f", {abs(left_db):.1f} dB {'below' if left_db <= 0 else 'above'} A"
    return f"aligned and at equal level, a null test leaves {_peak_words(null, found)}{below}"


def level_words(found: Compared) -> str:
    """Which is louder."""
    if not found.louder_by:
        return "level: one of them is silent, so that the levels are not matched"
    by = LEVELLED_BY[found.louder_by]
    if abs(found.louder_db) < 0.005:
        return f"level: the same (by {by})"
    return f"level: B is {abs(found.louder_db):.2f} dB {'louder' if found.louder_db > 0 else 'quieter'} (by {by})"


def time_words(found: Compared) -> Iterator[str]:
    """Offset, polarity, clock."""
    alignment, rate_hz = found.alignment, found.one.format.rate_hz
    if alignment is None:
        return
    offset = alignment.offset_frames
    if not offset:
        yield "time: B begins with A, to the sample"
    else:
        samples = f"{abs(offset):.0f}" if offset == round(offset) else f"{abs(offset):.3f}"
        yield (f"time: B is {samples} sample{'s' * (samples != '1')} ({abs(offset) / rate_hz * 1000:.3f} ms) "
               f"{'later' if offset > 0 else 'earlier'}")  # fmt: skip
    if alignment.exchanged:
        yield "channels: left of A is right of B; they are put back for the null test alone"
    if any(alignment.inverted):
        yield f"polarity: {_turned(alignment.inverted)} turned over in B, turned back for the null test alone"
    if alignment.drift_ppm is not None:
        drift, comes_to_ms = alignment.drift_ppm, abs(alignment.drift_ppm) * found.frames / rate_hz / 1000
        yield (f"clock: B is {abs(drift):.1f} ppm {'longer' if drift > 0 else 'shorter'}, {comes_to_ms:.2f} ms by the "
               "end; it is aligned by the middle, and what the null test leaves may be mostly that")  # fmt: skip
    if alignment.wanders:
        places = ", ".join(f"{place.offset_frames:+.0f} at {clock(place.at_s)}" for place in alignment.places)
        yield f"the offset changes on the way, as by an edit (samples: {places}); aligned is the commonest"


def steady_words(found: Compared, unsteady: Sequence[Unsteady]) -> Iterator[str]:
    """Whether what is left is no more than what a plugin never gives the same twice."""
    for one in within(found, unsteady):
        yield (f"that is no more than what '{one.name}' ({one.plugin}) itself repeats to: two renders of it differ by "
               f"{one.floor_dbfs:.1f} dBFS")  # fmt: skip


def inside_words(deep: Deep, rate_hz: int) -> Iterator[str]:
    """What neither a filter nor a moving gain explains, and how that gain moves."""
    told, remarks = deep.explained, deep.explained.remarks
    if told.residue_db is None:
        yield f"inside: {'; '.join(remarks)}"
        return
    times = f"{clock(deep.first_frame / rate_hz)}-{clock((deep.first_frame + deep.frames) / rate_hz)} of A"
    lost = LOST in remarks
    residue = f"less than {max(told.residue_db, told.floor_db):.1f}" if lost else f"{told.residue_db:.1f}"
    yield (f"inside, {times}: residue {residue} dB of B, what no filter and no moving gain explains "
           f"(floor {told.floor_db:.1f})")  # fmt: skip
    if told.attenuation_db is not None:
        usual, half, most = (_plain(value, 1) for value in (told.attenuation_db, told.median_db, told.most_db))
        share = _plain(100 * (told.working_share or 0.0), 0)
        yield (f"attenuation: 5 % of the loudest {LOUDEST_S:.0f} s above {usual} dB, half of it above {half}, 0.1 % "
               f"above {most}; more than {WORKING_DB} dB for {share} % of it")  # fmt: skip
    yield from (f"  {remark}" for remark in remarks)


def spectrum_lines(thirds_db: Sequence[float | None]) -> Iterator[str]:
    """Frequencies and differences in pairs of lines."""
    yield "spectrum, B over A at equal level, in thirds of an octave:"
    for at in range(0, len(NOMINAL_HZ), BANDS_A_LINE):
        end = at + BANDS_A_LINE
        yield f"{'Hz':>4}" + "".join(_hz(hz).rjust(CELL) for hz in NOMINAL_HZ[at:end])
        yield f"{'dB':>4}" + "".join(_signed(value, 1).rjust(CELL) for value in thirds_db[at:end])


def image_words(found: Compared) -> Iterator[str]:
    """Where the image leans most otherwise."""
    shift = found.shift
    if shift is None:
        return
    if shift.gone_at_s is not None:
        at = clock(_at_s(found, shift.gone_at_s))
        yield f"image: a channel is silent in one of them and not in the other, at {at}"
    if shift.change_db is None or shift.at_s is None or shift.from_db is None or shift.to_db is None:
        return
    if abs(shift.change_db) < LEAST_SHIFT_DB:
        yield f"image: moves nowhere by more than {LEAST_SHIFT_DB} dB (balance over 3 s)"
        return
    side = SIDES[shift.change_db > 0]
    yield (f"image: B leans {abs(shift.change_db):.2f} dB more to the {side} at most, in the 3 s from "
           f"{clock(_at_s(found, shift.at_s))} on (balance {shift.from_db:+.2f} to {shift.to_db:+.2f} dB)")  # fmt: skip


def _table(found: Compared) -> Table:
    table = columns("")
    names = [found.one.path.name, found.other.path.name]
    for letter, name in zip("AB", names, strict=True):
        table.add_column(escape(f"{letter}: {name}"), justify="right", overflow="fold", max_width=28)
    table.add_column("B - A", justify="right")
    ours, theirs = found.measurements
    changes = differences(found)
    for quantity in OF_FILES:
        cells = [_plain(one[quantity.key], quantity.decimals) for one in (ours, theirs)]
        label = f"{quantity.name} {quantity.unit}".strip()
        table.add_row(escape(label), *cells, _signed(changes[quantity.key], quantity.decimals))
    return table


def _length_words(found: Compared) -> Iterator[str]:
    lengths = [file.duration_s for file in (found.one, found.other)]
    rate_hz = found.one.format.rate_hz
    cut_s = (found.one.frames - found.frames) / rate_hz
    if found.one.frames == found.other.frames and cut_s < LEAST_CUT_S:
        return
    more = found.other.frames - found.one.frames
    unequal = "both are as long" if not more else \
        f"B is {abs(more)} samples ({abs(more) / rate_hz:.3f} s) {'longer' if more > 0 else 'shorter'}"  # fmt: skip
    first_s = found.first_frame / rate_hz
    yield (f"length: A {clock(lengths[0])}, B {clock(lengths[1])}, {unequal}; compared is what both have: "
           f"{clock(first_s)}-{clock(first_s + found.frames / rate_hz)} of A")  # fmt: skip


def _peak_words(null: Null, found: Compared) -> str:
    if null.peak_dbfs is None or null.rms_dbfs is None or null.at_s is None:
        return "nothing"
    side = f" on the {SIDES[null.channel]}" if found.one.format.channels == 2 and null.channel is not None else ""
    return f"a peak of {null.peak_dbfs:.1f} dBFS at {clock(null.at_s)}{side}, RMS {null.rms_dbfs:.1f} dBFS"


def _turned(inverted: Sequence[bool]) -> str:
    if all(inverted):
        return "all of it is"
    if len(inverted) == 2:
        return f"the {SIDES[inverted.index(True)]} channel is"
    return f"channels {', '.join(str(n + 1) for n, one in enumerate(inverted) if one)} are"


def _at_s(found: Compared, at_s: float) -> float:
    return at_s + found.first_frame / found.one.format.rate_hz


def _hz(hz: float) -> str:
    return f"{hz:g}" if hz < 1000 else f"{hz / 1000:g}k"


def _plain(value: float | None, decimals: int) -> str:
    return "-" if value is None else f"{round(value, decimals) + 0.0:.{decimals}f}"


def _signed(value: float | None, decimals: int) -> str:
    if value is None:
        return "-"
    rounded = round(value, decimals)
    return f"{rounded:+.{decimals}f}" if rounded else f"{0:.{decimals}f}"
