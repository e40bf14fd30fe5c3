"""The recall sheet: everything that made one rendered file."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

from sweeper.errors import SheetError
from sweeper.quantities import Measurements
from sweeper.records.reading import Unreadable, read

SHEET_NAME = "recall.json"
#: Counts the changes of ours that alter a rendered bit; they are listed in DEVELOPERS.md.
SOUND_VERSION = 1
#: Counts the changes that a default cannot bridge. A field with a default is no such change: sheets without it are
#: read on; a version that does not know the field refuses the sheet by its name.
SCHEMA = 1


@dataclass(frozen=True)
class Applied:
    """A setting as it stood after it was set and read back.

    side: the instance ("left", "mid", ...), "" for the only one. asked: as the chain file or the solver
    wrote it. raw: the position read back, 0.0 to 1.0. text: what the plugin shows there.
    """

    name: str
    index: int
    side: str
    asked: str
    raw: float
    text: str


@dataclass(frozen=True)
class Source:
    """The mix. audio_sha256: of the decoded samples, so that a renamed or re-wrapped file is known again."""

    file: str
    audio_sha256: str
    channels: int
    rate_hz: int
    frames: int


@dataclass(frozen=True)
class RideRecord:
    """A ride as it was. amount: as the chain file or the solver wrote it.

    setting, side: of the stage. moves: positions of 0.0 to 1.0 for a plugin's control, dB for a trim, a share of 0.0 to
    1.0 for blend: how far it went from where the setting stood (relative), or where it went. spans_s, ramp_s: when.
    """

    name: str
    setting: str
    side: str
    amount: str
    relative: bool
    moves: float
    spans_s: tuple[tuple[float, ...], ...]
    ramp_s: float


@dataclass(frozen=True)
class Returned:
    """What came back from outside. file: as it was found. audio_sha256: of its samples; aligned_sha256: of what was
    made of it. sent_sha256: of the samples that were sent. offset_frames: how much later than sent it lies in the file.
    """

    file: str
    audio_sha256: str
    aligned_sha256: str
    sent_sha256: str
    offset_frames: float
    inverted: bool = False


@dataclass(frozen=True)
class Gave:
    """What came out of a stage. marks: as `sweeper.audio.marks` tells them, one every `every_frames` and one of all."""

    frames: int
    every_frames: int
    marks: str


@dataclass(frozen=True)
class HandleRecord:
    """A handle as the chain file gave it. direction: "raise" or "lower"; "" = it did not say."""

    name: str
    direction: str
    setting: str


@dataclass(frozen=True)
class StageRecord:
    """One stage as it was. path, program_sha256: the plugin's file and the hash of its code ("" built in).

    settings: those that the chain file or the solver made; standing: every other control as it stood.
    latency_frames: as reported after the render. Trims in dB. output: the chain file has it under `output`.
    label: what the table calls it among its alternatives, "" where it has none. The rest as in the chain's `Stage`;
    latency: as written, "" where the plugin's own word holds. returned: for a stage outside, one; else none.
    repeats: how the stage came out when it was rendered twice, in two processes: "identical", in these settings, or the
    peak of what differed, "-96.3 dBFS", in these or others; "" = that was not tried.
    gave: one, or none where it is bypassed, not known, or told of all buses together by the last stage of them.
    """

    name: str
    plugin: str
    path: str
    maker: str
    version: str
    identifier: str
    program_sha256: str
    state_file: str
    state_sha256: str
    channels: str
    bypass: bool
    input_trim_db: float
    output_trim_db: float
    latency_frames: int
    settings: tuple[Applied, ...]
    standing: tuple[Applied, ...]
    output: bool = False
    label: str = ""
    blend: float = 1.0
    latency: str = ""
    tail_s: float = 0.0
    instances: int = 0
    inverted: bool = False
    bus: str = ""
    is_fader: bool = False
    rides: tuple[RideRecord, ...] = ()
    outside: str = ""
    returned: tuple[Returned, ...] = ()
    repeats: str = ""
    gave: tuple[Gave, ...] = ()
    handles: tuple[HandleRecord, ...] = ()


@dataclass(frozen=True)
class Sheet:
    """One rendered file's sheet. id: also in the file's own metadata. audio_sha256: of its samples.

    passes: full renders that it took; plugin_s: seconds of them spent inside plugins. created: date and time, "" for
    a sheet that does not say. excerpts: what was played of the mix to find out where to render, in full renders.
    parent: the id of the sheet that it was made again from, "" = of none; change: what was changed then, in words.
    """

    id: str
    title: str
    variant: str
    source: Source
    stages: tuple[StageRecord, ...]
    block_frames: int
    audio_sha256: str
    measurements: Mapping[str, object]
    reach: tuple[Mapping[str, object], ...]
    notes: tuple[str, ...]
    versions: Mapping[str, str]
    passes: int = 1
    plugin_s: float = 0.0
    created: str = ""
    excerpts: float = 0.0
    parent: str = ""
    change: str = ""

    def as_data(self) -> dict[str, object]:
        """The sheet for JSON."""
        return {"schema": SCHEMA, "sound_version": SOUND_VERSION, **dataclasses.asdict(self)}

    @classmethod
    def from_data(cls, data: object, place: str = SHEET_NAME) -> Sheet:
        """What `as_data` made, read back; sheets of earlier versions too. place: the file, for the message.

        Raises SheetError for what is no sheet, for a newer one, and for one with something missing or wrong.
        """
        if not isinstance(data, Mapping) or not {"schema", "id", "stages"} <= data.keys():
            raise SheetError(f"{place}: this is not a recall sheet",
                             "name the recall.json of a variant, or its sound file")  # fmt: skip
        if data["schema"] != SCHEMA:
            raise SheetError(f"{place}: this recall sheet is of schema {data['schema']!r}, here {SCHEMA} is read",
                             "use the version of sweeper that wrote it, or a newer one")  # fmt: skip
        plain = {key: value for key, value in data.items() if key not in ("schema", "sound_version")}
        try:
            sheet = read(cls, plain | {"reach": _reaches(plain.get("reach"))})
            Measurements.from_data(sheet.measurements)
        except ValueError as exc:
            remedy = "use the version of sweeper that wrote it" if isinstance(exc, Unreadable) and exc.unknown else (
                "the file is damaged or was edited: take it from a backup")  # fmt: skip
            raise SheetError(f"{place}: the recall sheet cannot be used: {exc}", remedy) from exc
        return sheet


def _reaches(written: object) -> object:
    """The first sheets have one reach, or null."""
    if written is None:
        return []
    return [written] if isinstance(written, Mapping) else written
