"""What trials showed of the stages of a chain, in words and as data."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from sweeper.chain.model import Chain, Stage
from sweeper.host.described import Plugin
from sweeper.plan.examined import Examined
from sweeper.render.repeats import Repeated
from sweeper.render.trial_orders import Repeats, Residual, Tried
from sweeper.render.trials import StageKey


@dataclass(frozen=True)
class Shown:
    """What was tried. stages: on noise. repeated: what was rendered twice; None = that was not asked for."""

    stages: Mapping[StageKey, Tried] = field(default_factory=dict)
    repeated: Repeated | None = None

    def repeats(self, key: StageKey) -> Repeats | None:
        """Whether a stage gives the same twice; None = not tried."""
        return self.repeated.stages.get(key) if self.repeated else None


def stage_words(plugin: Plugin, tried: Tried | None, repeats: Repeats | None) -> list[str]:
    """What stands behind a stage's name: its delay, and whether it changes anything and repeats itself."""
    words = []
    if tried is None:
        words += [f"delay {plugin.latency_frames} frames, taken out"] if plugin.latency_frames else []
    elif not tried.is_late and (tried.taken_out_frames or tried.reported_frames):
        says = "as reported" if tried.taken_out_frames == tried.reported_frames else "as the chain file says"
        unsure = ", which cannot be measured" if tried.late_frames is None else ""
        words.append(f"delay {tried.taken_out_frames} frames {says}{unsure}, taken out")
    elif tried.late_frames is None and not any(finding.kind == "silent" for finding in tried.findings):
        words.append("delay cannot be measured")
    if tried is not None and any(finding.kind == "dry" for finding in tried.findings):
        words.append("leaves noise at -20 dBFS as it is")
    return words + ([repeats.verdict] if repeats else [])


def trial_warnings(chain: Chain, examined: Examined, shown: Shown) -> tuple[str, ...]:
    """What an engineer should know before a run."""
    found: list[str] = []
    for stage, plugin, key in _with_plugins(chain, examined):
        if (tried := shown.stages.get(key)) is not None:
            found += [f"'{stage.name}' ({plugin.name}) {words}" for words in _warned(plugin, tried)]
    if shown.repeated and shown.repeated.whole.verdict != "repeats":
        found.append(f"the chain of the first variant {shown.repeated.whole.verdict}: a recall will differ as much")
    if shown.repeated and shown.repeated.trouble:
        found.append(f"sheets of runs will not say which stages repeat: {shown.repeated.trouble}")
    return tuple(dict.fromkeys(found))


def _warned(plugin: Plugin, tried: Tried) -> Iterator[str]:
    if tried.is_late and tried.late_frames is not None:
        by = abs(round(tried.late_frames))
        which = "late" if tried.late_frames > 0 else "early"
        own = tried.taken_out_frames == tried.reported_frames
        says = f"it reports {tried.reported_frames}" if own else f"the chain file says {tried.taken_out_frames}"
        cure = f"write `latency: {tried.true_frames} samples`" if tried.true_frames >= 0 else "an echo may seem so"
        yield f"is {by} sample{'s' * (by != 1)} {which}: {says}; {cure}"
    if tried.reported_frames != plugin.latency_frames:
        yield (f"reports a delay of {tried.reported_frames} frames as it is set, and of {plugin.latency_frames} as it "
               "is loaded: it changes with a setting")  # fmt: skip
    if tried.inverted:
        yield "turns the polarity over; where it is blended or on a bus, write `polarity: inverted`"
    for finding in tried.findings:
        if finding.kind != "dry":
            yield f"{finding.words}, on noise"


def stages_data(chain: Chain, examined: Examined, shown: Shown) -> list[dict[str, object]]:
    """Every stage that has a plugin, each of its alternatives by itself, as `check --json` prints it."""
    found: list[dict[str, object]] = []
    for stage, plugin, key in _with_plugins(chain, examined):
        one: dict[str, object] = {"name": stage.name, "label": stage.label, "plugin": plugin.name}
        if (tried := shown.stages.get(key)) is not None:
            one["delay"] = {
                "reported_frames": tried.reported_frames, "at_load_frames": plugin.latency_frames,
                "taken_out_frames": tried.taken_out_frames, "inverted": tried.inverted,
                "late_frames": None if tried.late_frames is None else round(tried.late_frames, 2) + 0.0,
            }  # fmt: skip
            one["behaviour"] = [{"kind": f.kind, "words": f.words, "at_s": [round(s, 2) for s in f.at_s]}
                                for f in tried.findings]  # fmt: skip
        if (repeats := shown.repeats(key)) is not None:
            one["repeats"] = repeats_data(repeats)
        found.append(one)
    return found


def repeats_data(repeats: Repeats) -> dict[str, object]:
    """Whether it gives the same twice, as data."""
    return {"verdict": repeats.verdict, "again": _residual(repeats.again), "fresh": _residual(repeats.fresh)}


def _residual(residual: Residual) -> dict[str, object]:
    peak, relative = residual.peak_dbfs, residual.relative_db
    return {"identical": peak is None, "peak_dbfs": None if peak is None else round(peak, 1),
            "relative_db": None if relative is None else round(relative, 1)}  # fmt: skip


def _with_plugins(chain: Chain, examined: Examined) -> Iterator[tuple[Stage, Plugin, StageKey]]:
    for stage in chain.stages:
        for choice in stage.choices:
            key = (stage.name, choice.label)
            if key in examined.plugins:
                yield choice, examined.plugins[key], key
