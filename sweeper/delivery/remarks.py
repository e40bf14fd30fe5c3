"""What an engineer should know of a print, in words."""

from __future__ import annotations

from collections.abc import Iterator

from sweeper.audio import Word
from sweeper.delivery.ceiling import ON_IT_DB, excess_db
from sweeper.delivery.outcome import Print


def remarks(one: Print) -> Iterator[str]:
    """One sentence each; none where all is as it was asked for."""
    yield from _way(one)
    yield from _level(one)
    yield from _words(one)
    yield from _coding(one)
    yield from _variant(one)


def _way(one: Print) -> Iterator[str]:
    ahead, cut = one.ahead, one.ahead.cut
    whole = round(ahead.source_frames * ahead.rate_hz / ahead.source.rate_hz)
    if ahead.rate_hz != ahead.source.rate_hz:
        yield (
            f"converted from {ahead.source.rate_hz / 1000:g} to {ahead.rate_hz / 1000:g} kHz: "
            f"{ahead.source_frames} frames became {whole}"
        )
    if cut.start:
        yield f"{cut.start} frames are cut off at the start"
    if cut.end < whole:
        yield f"{whole - cut.end} frames are cut off at the end"
    if cut.words:
        yield cut.words


def _level(one: Print) -> Iterator[str]:
    order, ahead, ceiling = one.order, one.ahead, one.ceiling
    over = excess_db(ahead, ceiling.dbtp)
    if order.level_db:
        yield f"{'raised' if order.level_db > 0 else 'lowered'} by {abs(order.level_db):.2f} dB as asked"
    if order.gain_db and over:
        made = "after conversion" if ahead.rate_hz != ahead.source.rate_hz else "as rendered"
        yield (
            f"trimmed by {order.gain_db:.2f} dB: {made} its true peak was {ahead.true_peak_dbtp:.2f} dBTP, the ceiling "
            f"is {ceiling.dbtp:g} dBTP ({ceiling.why})"
        )
    elif order.gain_db:
        word = order.spec.word.text if order.spec.word else "the file"
        yield f"trimmed by {order.gain_db:.2f} dB, so that {word} can hold it"
    peak = one.printed.measurements["true_peak_dbtp"]
    if ceiling.dbtp is None and not order.spec.as_rendered and peak is not None and peak > 0:
        yield (
            f"its true peak is {peak:+.2f} dBTP, and no ceiling is named: players may clip it; "
            '--ceiling "-1 dBTP" trims it'
        )
    if not order.spec.lossy and ceiling.dbtp is not None and peak is not None and peak > ceiling.dbtp + ON_IT_DB:
        yield f"in the file its true peak is {peak:.2f} dBTP, over the ceiling of {ceiling.dbtp:g} dBTP"


def _words(one: Print) -> Iterator[str]:
    spec, bits = one.order.spec, one.ahead.bits
    if one.printed.clipped:
        yield f"{one.printed.clipped} samples were too high for {spec.word.text if spec.word else 'the file'}, and clip"
    if bits is not None and bits > 1 and not spec.as_rendered:
        grid = 16 if bits <= 16 else 24
        again = ", and dithered a second time here" if spec.dither != "none" else ""
        yield (
            f"the render already lies on a grid of {grid} bit{again}: the last stage dithers or rounds by itself; turn "
            "that off in the plugin and run again, unless nothing in the chain changes the mix"
        )
    if spec.dither == "none" and spec.word in (Word.PCM_16, Word.PCM_24):
        yield f"rounded to {spec.word.text} without dither"
    if spec.as_rendered:
        yield "sample for sample the render" if one.printed.identical else "NOT the render's samples"


def _coding(one: Print) -> Iterator[str]:
    coded, printed = one.printed.coded, one.printed
    if coded is None:
        return
    if coded.delay_frames is None:
        yield "decoded again, the music is not found in it: listen to it before it goes out"
    else:
        left = (
            "" if coded.left_db is None else f", and what coding changed lies {-coded.left_db:.0f} dB below the music"
        )
        when = "in its place" if not coded.delay_frames else f"{coded.delay_frames:+g} frames late"
        yield f"decoded again at {coded.kbps:.0f} kbit/s the music is {when}{left}"
    if printed.frames != coded.fed_frames:
        yield f"decoded it has {printed.frames} frames, and {coded.fed_frames} went in"
    peak, fed = printed.measurements["true_peak_dbtp"], coded.fed_true_peak_dbtp
    if peak is not None and fed is not None and peak - fed > ON_IT_DB:
        ceiling = one.ceiling.dbtp
        over = "" if ceiling is None or peak <= ceiling + ON_IT_DB else f", over the ceiling of {ceiling:g} dBTP"
        clip = ": players that decode to integers clip it" if peak > 0 else ""
        yield f"coding raises its true peak by {peak - fed:.2f} dB to {peak:.2f} dBTP{over}{clip}"


def _variant(one: Print) -> Iterator[str]:
    row = one.kept.row
    if row is not None and not row.fits:
        yield f"variant {one.kept.id} is not on its targets and inside every limit, as the run's table says"
