"""A chain file as frozen values. Nothing here reads files or knows plugins."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from pathlib import Path

from sweeper.chain.print_model import NO_PRINTS, PrintWishes

#: Settings every stage has beside its plugin's own, in dB.
TRIMS = ("input trim", "output trim")
#: How much of the plugin's sound a stage gives, against its input: in %.
BLEND = "blend"
#: Every setting of a stage that is not its plugin's.
OWN_SETTINGS = (*TRIMS, BLEND)


@dataclass(frozen=True)
class Mark:
    """A place in the chain file, counted from 1."""

    line: int
    column: int


@dataclass(frozen=True)
class Number:
    """A setting's value as a number: -12 dB, 30 ms, 4. text: as it was written.

    near: the nearest that the control can be is meant, not this number or nothing.
    """

    value: float
    unit: str
    text: str
    near: bool = False


@dataclass(frozen=True)
class Travel:
    """A setting's value as a share of the control's way, 0.0 to 1.0: "37 % travel"."""

    fraction: float
    text: str


@dataclass(frozen=True)
class Switch:
    """A setting's value as on or off."""

    on: bool
    text: str


@dataclass(frozen=True)
class Choice:
    """A setting's value as one of the texts that the plugin shows."""

    text: str


@dataclass(frozen=True)
class FromDialled:
    """A setting's value as a step away from where it is dialled: by the file's own settings, else by the state.

    offset: how far, in the control's unit or as a share of its way (a `Travel` with a fraction of -1.0 to 1.0).
    """

    offset: Number | Travel
    text: str


SettingValue = Number | Travel | Switch | Choice | FromDialled


class Channels(Enum):
    """What of the signal a stage's plugin hears."""

    STEREO = "stereo"
    LEFT_RIGHT = "left/right"
    MID_SIDE = "mid/side"
    MID = "mid"
    SIDE = "side"

    @property
    def sides(self) -> tuple[str, ...]:
        """The plugin instances the stage needs, by the name of what each hears; ("",) for one on stereo."""
        return {"stereo": ("",), "left/right": ("left", "right"), "mid/side": ("mid", "side"),
                "mid": ("mid",), "side": ("side",)}[self.value]  # fmt: skip


@dataclass(frozen=True)
class Assignment:
    """One setting of a stage. side: which instance it is for ("left", "mid", ...); "" = every one."""

    name: str
    value: SettingValue
    side: str
    mark: Mark


@dataclass(frozen=True)
class Handle:
    """A control named for what it does. setting: the plugin's own name (or a trim).

    direction: "raise" or "lower", the way that makes more of it; "" where none was said (a ceiling).
    """

    name: str
    direction: str
    setting: str
    mark: Mark


@dataclass(frozen=True)
class Stage:
    """One processor in the chain.

    plugin: as written: a name, a path, or "builtin:NAME". output: it stands after the buses.
    input_trim_db, output_trim_db: gain before and after the plugin. label: what the table calls it among
    alternatives, "" for a stage that is none. alternatives: of an `any of`, in the file's order, whole stages of
    this stage's name; then `plugin` is "" and nothing else of this stage is heard. () = this stage itself.

    blend: the plugin's share of the stage's sound, 0.0 to 1.0, the rest being its input. inverted: the polarity of what
    the plugin gives is turned round. latency: the plugin's true delay where it does not tell it, in "samples" or "ms";
    None = as it reports. tail_s: how much longer the sound gets, for what rings on. instances: 1 = only one process at
    a time may have the plugin loaded; 0 = any number.
    outside: what the sound is sent out to, in words; then `plugin` is "" and the run waits for what comes back.
    returned: the folder in which that is looked for besides the run's own; None = nowhere else.
    bus: the bus that it stands on, "" = in the main path. is_fader: it is a bus's level, after the bus's inserts, and
    has no plugin; its name is the bus's.
    """

    name: str
    plugin: str
    state: Path | None
    channels: Channels
    settings: tuple[Assignment, ...]
    handles: tuple[Handle, ...]
    input_trim_db: float
    output_trim_db: float
    bypass: bool
    output: bool
    mark: Mark
    plugin_mark: Mark
    label: str = ""
    alternatives: tuple[Stage, ...] = ()
    blend: float = 1.0
    latency: Number | None = None
    tail_s: float = 0.0
    instances: int = 0
    inverted: bool = False
    outside: str = ""
    returned: Path | None = None
    bus: str = ""
    is_fader: bool = False

    @property
    def choices(self) -> tuple[Stage, ...]:
        """The stages that can stand here: its alternatives, or the stage itself."""
        return self.alternatives or (self,)


@dataclass(frozen=True)
class SettingRef:
    """A setting of a stage, as `vary` and `reach` name it: stage.setting or stage.side.setting.

    setting: the plugin's name for it, a handle, a trim or blend. side: "" = every instance. ride: the name of the ride
    of that setting whose amount is meant, "" = the setting itself. word: "by" or "to", as the ride has it.
    """

    stage: str
    setting: str
    side: str
    ride: str = ""
    word: str = ""

    def __str__(self) -> str:
        if self.ride:
            return f"rides.{self.ride}.{self.word}"
        return ".".join(part for part in (self.stage, self.side, self.setting) if part)


class Spacing(Enum):
    """How the values of a range lie: evenly, or in even ratios."""

    LINEAR = "linear"
    LOG = "log"


@dataclass(frozen=True)
class VaryAxis:
    """One thing in doubt, and the values to try, in the file's order.

    between: any value between the two that `values` holds may be tried; None = only the values themselves.
    """

    ref: SettingRef
    values: tuple[SettingValue, ...]
    mark: Mark
    between: Spacing | None = None


@dataclass(frozen=True)
class Condition:
    """A bound on a measurement: `mono loss <= 1 LU`. key: of sweeper.quantities. relation: "<=" or ">=".

    target: the id of the delivery target it belongs to, "" = it was written by itself.
    """

    key: str
    relation: str
    value: float
    text: str
    mark: Mark
    target: str = ""

    @property
    def bounds(self) -> tuple[str, str, str]:
        """What it bounds, from which side, and for whom: no two conditions of a list have it in common."""
        return self.key, self.relation, self.target


@dataclass(frozen=True)
class Reach:
    """A measurement to land on by solving a setting.

    goal, within: in the quantity's unit. at_most: the goal is a ceiling: never passed, and missed by no more
    than `within`. stop_at: conditions that end the drive earlier.
    """

    key: str
    goal: float
    at_most: bool
    within: float
    by: SettingRef
    stop_at: tuple[Condition, ...]
    mark: Mark


@dataclass(frozen=True)
class Preference:
    """What ranks the variants inside the limits. highest: True ranks large values first."""

    key: str
    highest: bool
    mark: Mark


@dataclass(frozen=True)
class Explore:
    """A search of what is varied in place of every combination.

    variants: of each mix at most. seed: what its chances are drawn from. stop_after: so many variants without a better
    one end it; None = nothing does before `variants`. excerpts: they are tried on excerpts of the mix, and only the
    best of them are rendered.
    """

    variants: int
    seed: int = 1
    stop_after: int | None = None
    excerpts: bool = False


@dataclass(frozen=True)
class Section:
    """A named stretch of a mix, in seconds from its start."""

    name: str
    start_s: float
    end_s: float


@dataclass(frozen=True)
class Ride:
    """A setting that moves in some stretches of the music.

    ref: the setting. amount: where it goes there, or how far from where it stands (relative): `to` and `by`. A relative
    amount of a handle is a step towards more of it. sections: names of sections of the mixes; spans: stretches given
    as times in seconds. ramp_s: how long it takes to go there; the way there ends as the stretch begins, the way back
    begins as it ends.
    """

    name: str
    ref: SettingRef
    amount: SettingValue
    relative: bool
    sections: tuple[str, ...]
    spans: tuple[tuple[float, float], ...]
    ramp_s: float
    mark: Mark


@dataclass(frozen=True)
class OwnSetting:
    """A setting that one mix has in place of what the stage says; of a ride, its amount."""

    ref: SettingRef
    value: SettingValue
    mark: Mark


@dataclass(frozen=True)
class OwnGoal:
    """Where one mix is to land with a measurement that all reach. key: of sweeper.quantities; goal: in its unit."""

    key: str
    goal: float
    mark: Mark


@dataclass(frozen=True)
class Mix:
    """A mix to master. file: resolved against the chain file's folder; written: as in the file.

    settings_from: the mix, as written, whose settings it is rendered with, solved ones too; None = it has its own.
    settings, goals, limits: what it has in place of what the chain says for all; `own_chain.chain_of` puts them there.
    """

    file: Path
    written: str
    sections: tuple[Section, ...]
    mark: Mark
    settings_from: str | None = None
    settings: tuple[OwnSetting, ...] = ()
    goals: tuple[OwnGoal, ...] = ()
    limits: tuple[Condition, ...] = ()

    @property
    def is_plain(self) -> bool:
        """It has nothing of its own in place of what the chain says."""
        return not (self.settings or self.goals or self.limits)


@dataclass(frozen=True)
class Reference:
    """A record to compare with; measured as it is."""

    file: Path
    written: str
    mark: Mark


@dataclass(frozen=True)
class Chain:
    """A whole chain file.

    path: where it was read; text: its content, verbatim. sequence: the orders to try of the inserts that may move
    or leave, as names; () = the file's own order only. reach: at most three, on settings that differ.
    match_over: names of the sections at whose loudness the variants are level-matched; () = the whole mix.
    keep: how many of each mix's variants keep their sound files, the best by `prefer`; None = all.
    buses: the stages of every bus, one bus after the other, each ending with its fader; all are fed by what the last
    insert gives, and added to it before the output stages. rides: in the file's order. explore: None = every
    combination of what is varied. keeps_relations: of several mixes the loudest lands on a loudness goal, the others as
    far below it as they are below the loudest; else each lands on the goal. prints: what `print` asks for; nothing that
    a run renders hangs on it.
    """

    path: Path
    text: str
    title: str
    mixes: tuple[Mix, ...]
    references: tuple[Reference, ...]
    inserts: tuple[Stage, ...]
    output: tuple[Stage, ...]
    vary: tuple[VaryAxis, ...]
    reach: tuple[Reach, ...]
    limits: tuple[Condition, ...]
    prefer: tuple[Preference, ...]
    match_over: tuple[str, ...]
    sequence: tuple[tuple[str, ...], ...] = ()
    keep: int | None = None
    buses: tuple[Stage, ...] = ()
    rides: tuple[Ride, ...] = ()
    explore: Explore | None = None
    keeps_relations: bool = False
    prints: PrintWishes = NO_PRINTS

    def main_of(self, mix: int) -> int | None:
        """The number of the mix whose settings that one is rendered with; None where it has its own."""
        source = self.mixes[mix].settings_from
        return None if source is None else next(n for n, other in enumerate(self.mixes) if other.written == source)

    @property
    def stages(self) -> tuple[Stage, ...]:
        """Every stage: the inserts, the buses one after the other, the output stages."""
        return self.inserts + self.buses + self.output
