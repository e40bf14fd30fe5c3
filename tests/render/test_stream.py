"""A chain at work equals whole files one stage after another, to the bit, and stays aligned to the sample."""

from __future__ import annotations

import hosting_tasks
import numpy as np
import pytest
from hosting_tasks import Clip
from plugin_fixtures import done, packaged, stage

LIMITER = ("ZaMaximX2", {"Threshold": "-12 dB"})
COMPRESSOR = ("ZamCompX2", {"Threshold": "-30 dB"})
MULTIBAND = ("ZaMultiCompX2", {})
GATE = ("ZamGateX2", {})
BUILTIN_LIMITER = ("builtin:BrickwallLimiter", {"ceiling_db": "-12 dB"})
BUILTIN_REVERB = ("builtin:Reverb", {})


def stages(*chosen):
    return tuple(
        stage(name if ":" in name else packaged(name), name=f"s{n}", **settings)
        for n, (name, settings) in enumerate(chosen)
    )


@pytest.mark.parametrize("chunk", [100, 1024, 32768])
@pytest.mark.parametrize(
    "chain",
    [(LIMITER,), (LIMITER, COMPRESSOR), (LIMITER, LIMITER), (COMPRESSOR, MULTIBAND, LIMITER), (GATE, BUILTIN_LIMITER),
     (BUILTIN_LIMITER, BUILTIN_REVERB, LIMITER)],
    ids=lambda chain: "+".join(name for name, _ in chain),
)  # fmt: skip
def test_streaming_equals_whole_files_to_the_bit(pool, chain, chunk):
    clip = Clip(stages(*chain), chunk=chunk)
    difference, level, frames = done(pool, "hosting_tasks:streamed_and_whole", clip)
    assert difference == 0.0
    assert level > 0.01
    assert frames == clip.frames


@pytest.mark.parametrize("frames", [1, 2, 479, 1023, 1024, 1025, 5000])
def test_short_mixes_keep_their_length_and_every_sample(pool, frames):
    clip = Clip(stages(LIMITER, COMPRESSOR), frames=frames)
    difference, level, length = done(pool, "hosting_tasks:streamed_and_whole", clip)
    assert (difference, length) == (0.0, frames)
    assert level > 0


@pytest.mark.parametrize(
    "chain", [(LIMITER, COMPRESSOR), (BUILTIN_LIMITER, BUILTIN_REVERB)],
    ids=lambda chain: "+".join(name for name, _ in chain),
)  # fmt: skip
def test_a_second_render_is_the_first_again_to_the_bit(pool, chain):
    first, second = done(pool, "hosting_tasks:streamed_twice", Clip(stages(*chain)))
    assert np.array_equal(first, second)


def test_a_plugin_that_no_reset_makes_young_again_renders_the_same_all_the_same(pool, probes):
    clip = Clip((stage(probes["ageing"]),))
    first, second = done(pool, "hosting_tasks:streamed_twice", clip)
    assert np.abs(first[:, -1]).max() < 0.5 * np.abs(hosting_tasks.clip_samples(clip)[:, -1]).max(), "it does age"
    assert np.array_equal(first, second)


@pytest.mark.parametrize(
    ("name", "channels"),
    [("delay_honest", "stereo"), ("delay_honest", "mid/side"), ("delay_honest", "mid"), ("delay_honest", "side")],
)
def test_an_honest_delay_comes_out_where_it_went_in(pool, probes, name, channels):
    setup = stage(probes[name], channels)
    assert done(pool, "hosting_tasks:first_arrivals", Clip((setup, setup))) == (5000, 5000)


def test_a_mixed_chain_is_aligned_to_the_sample(pool, probes):
    delay = stage(probes["delay_honest"], "left/right")
    chain = (stage(packaged("ZaMaximX2")), delay, stage("builtin:BrickwallLimiter"))
    assert done(pool, "hosting_tasks:first_arrivals", Clip(chain)) == (5000, 5000)


def test_a_lying_delay_is_late_by_its_lie(pool, probes):
    assert done(pool, "hosting_tasks:first_arrivals", Clip((stage(probes["delay_lying"]),))) == (5000 + 441 - 64,) * 2


def test_delays_that_leave_only_one_side_stay_in_step_with_the_other(pool, probes):
    clip = Clip((stage(probes["delay_honest"], "mid"),))
    out = done(pool, "hosting_tasks:streamed", clip)
    assert np.abs(out - hosting_tasks.clip_samples(clip)).max() < 1e-6


@pytest.mark.parametrize(("fault", "sample"), [("nan_process", "nan"), ("inf_process", "inf")])
def test_a_sample_that_is_no_number_names_stage_channel_and_time(pool, probes, fault, sample):
    from sweeper.errors import PluginError

    said = rf"'bad' \(Probe .* Process\) gave -?{sample} instead of a sample, channel . at 0:00"
    with pytest.raises(PluginError, match=said):
        done(pool, "hosting_tasks:streamed", Clip((stage(probes[fault], name="bad"),)))


def test_a_stage_that_gives_silence_for_sound_is_told(pool):
    mute = stage("builtin:Reverb", name="mute", wet_level="0", dry_level="0")
    gain = stage("builtin:Gain", name="gain", gain_db="-6 dB")
    assert done(pool, "hosting_tasks:notes", Clip((gain, mute, gain))) == ("'mute' (builtin:Reverb) put out silence",)
    assert done(pool, "hosting_tasks:notes", Clip((gain, mute), level=0.0)) == ()


def test_taps_hear_what_stands_before_and_after_every_stage():
    from sweeper.host.stage import HostedStage
    from sweeper.render.stream import render

    clip = Clip((stage("builtin:Gain", name="a", gain_db="-6 dB"), stage("builtin:BrickwallLimiter", name="b")))
    samples = hosting_tasks.clip_samples(clip)
    hosted = [HostedStage(setup, clip.format, clip.block) for setup in clip.stages]
    heard: dict[int, list[np.ndarray]] = {-1: [], 0: [], 1: []}
    out: list[np.ndarray] = []
    taps = {number: blocks.append for number, blocks in heard.items()}
    render(hosted, [samples], clip.frames, clip.block, out.append, lambda stage, at_s: None, taps)
    before, middle, after = (np.concatenate(heard[n], axis=1) for n in (-1, 0, 1))
    assert np.array_equal(before, samples)
    assert np.abs(middle - samples * np.float32(10 ** (-6 / 20))).max() < 1e-6
    assert np.array_equal(after, np.concatenate(out, axis=1))
    assert after.shape == samples.shape
