"""The chain as one mix has it: as if the chain file had been written for that mix alone."""

from __future__ import annotations

import pytest

from sweeper.chain.own_chain import chain_of, each_chain, own_refs

REST = """album: each to target
inserts:
  - {{name: tone, plugin: EQ, channels: mid/side, settings: {{Gain: 2 dB, Freq: 1 kHz}}{tone}}}
  - {{name: glue, plugin: Comp, settings: {{Ratio: {ratio}, Attack: 5 ms}}, drive: lower Threshold}}
  - name: colour
    any of: [{{plugin: Valve, drive: raise Input{valve}}}, {{plugin: Iron, drive: raise input trim{iron}}}]
buses:
  - {{name: lift, level: {level} dB, inserts: [{{name: air, plugin: EQ{air}}}]}}
output: [{{name: limiter, plugin: Brick, drive: raise Input, ceiling: Ceiling}}]
rides: [{{name: up, set: lift.level, by: {by} dB, in: ["0:01-0:02"]}}]
reach:
  - {{loudness: {loudness} LUFS, within: 0.3 LU, by: limiter.drive}}
  - {{true peak: at most {peak} dBTP, by: limiter.ceiling}}
limits: [{limits}]
"""
COMMON = {"ratio": "2", "tone": "", "valve": "", "iron": "", "level": "-12", "air": "", "by": "1", "loudness": "-10",
          "peak": "-1", "limits": "crest >= 8 dB, mono loss <= 2 LU"}  # fmt: skip
OWN = """mixes:
  - a.wav
  - file: b.wav
    settings: {glue.ratio: 3, colour.drive: 4 dB, tone.bypass: on, air.blend: 40 %, lift.level: -15 dB,
               rides.up.by: -2 dB, air.output trim: 1 dB}
    reach: {loudness: -14 LUFS, true peak: at most -2 dBTP}
    limits: [crest >= 10 dB, loudness range <= 9 LU]
"""
AS_IF = COMMON | {
    "ratio": "3", "tone": ", bypass: on", "valve": ", settings: {Input: 4 dB}", "iron": ", input trim: 4 dB",
    "level": "-15", "air": ", blend: 40 %, output trim: 1 dB", "by": "-2", "loudness": "-14", "peak": "-2",
    "limits": "crest >= 10 dB, mono loss <= 2 LU, loudness range <= 9 LU",
}  # fmt: skip


def plain(chain):
    """What a chain does, without where it stands in the file."""
    def settings(stage):
        own = [(one.name.casefold(), one.side, one.value.text) for one in stage.settings]
        rest = (stage.input_trim_db, stage.output_trim_db, stage.blend, stage.bypass)
        return stage.name, stage.label, own, rest, [settings(each) for each in stage.alternatives]

    return ([settings(stage) for stage in chain.stages], [ride.amount.text for ride in chain.rides],
            [(r.key, r.goal, r.at_most, r.within, r.by) for r in chain.reach],
            [one.text for one in chain.limits])  # fmt: skip


def test_it_is_what_a_chain_file_written_for_that_mix_alone_is(load):
    chain = load(OWN + REST.format(**COMMON))
    alone = load("mixes: [a.wav, b.wav]\n" + REST.format(**AS_IF))
    common = load("mixes: [a.wav, b.wav]\n" + REST.format(**COMMON))
    assert plain(chain_of(chain, 1)) == plain(alone)
    assert plain(chain_of(chain, 0)) == plain(common) == plain(chain)
    assert plain(common) != plain(alone)


def test_taken_for_a_chain_it_stays_what_it_is(load):
    own = chain_of(load(OWN + REST.format(**COMMON)), 1)
    assert plain(chain_of(own, 1)) == plain(own)
    assert own.mixes[1].goals, "by which an album knows that it takes no part"
    assert own_refs(own) == ()


def test_a_file_without_any_of_it_is_the_chain_of_every_mix(load):
    chain = load("mixes: [a.wav, b.wav]\n" + REST.format(**COMMON))
    assert all(one is chain for one in each_chain(chain))


def test_every_setting_of_a_mix_is_named_once(load):
    chain = load(OWN.replace("- a.wav", "- {file: a.wav, settings: {glue.ratio: 4}}") + REST.format(**COMMON))
    names = [str(ref) for ref in own_refs(chain)]
    assert names[0] == "glue.ratio" and names.count("glue.ratio") == 1 and len(names) == 7


@pytest.mark.parametrize(
    ("own", "found"),
    [
        ("tone.mid.Gain: 1 dB", [("Gain", "mid", "1 dB"), ("Gain", "side", "2 dB"), ("Freq", "", "1 kHz")]),
        ("tone.Gain: 1 dB", [("Gain", "", "1 dB"), ("Freq", "", "1 kHz")]),
        ("tone.side.Q: 1", [("Gain", "", "2 dB"), ("Freq", "", "1 kHz"), ("Q", "side", "1")]),
        ("tone.mid.gain: 1 dB, tone.side.gain: 3 dB",
         [("gain", "mid", "1 dB"), ("gain", "side", "3 dB"), ("Freq", "", "1 kHz")]),
    ],
)  # fmt: skip
def test_one_side_leaves_the_other_as_it_is_in_the_place_of_what_it_replaces(load, own, found):
    chain = load(f"mixes: [a.wav, {{file: b.wav, settings: {{{own}}}}}]\n" + REST.format(**COMMON))
    tone = chain_of(chain, 1).inserts[0]
    assert [(one.name, one.side, one.value.text) for one in tone.settings] == found


def test_an_alternate_has_what_its_main_mix_has_under_limits_of_its_own(folder, load):
    (folder / "c.wav").touch()
    chain = load(OWN + "  - {file: c.wav, settings from: b.wav, limits: [crest >= 9 dB]}\n" + REST.format(**COMMON))
    settings, rides, reach, limits = plain(chain_of(chain, 2))
    assert (settings, rides, reach) == plain(chain_of(chain, 1))[:3]
    assert limits == ["crest >= 9 dB", "mono loss <= 2 LU", "loudness range <= 9 LU"]
