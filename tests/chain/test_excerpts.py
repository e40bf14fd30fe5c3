"""What an exploration on excerpts cannot do, and what excerpts do not tell: refused in words, each at its place."""

from __future__ import annotations

import pytest

from sweeper.chain.excerpts import UNTOLD

CHAIN = """mix: a.wav
inserts: [{name: glue, plugin: Comp, drive: raise Input}]
vary: {glue.Ratio: [2, 4]}
prefer: [crest.loud highest]
explore: {variants: 6, listen to: excerpts}
"""
OR_WHOLE = "write `listen to: whole`"


def faults(found):
    return [(f"{p.line}:{p.column}", p.what, p.remedy) for p in found]


@pytest.mark.parametrize(
    ("lines", "place", "name", "where"),
    [
        ("limits: [mono loss <= 1 LU, overs <= 0]", "6:29", "overs", "limits"),
        ("limits: [noise floor <= -70 dBFS]", "6:10", "noise floor", "limits"),
        ("reach: [{loudness: -10 LUFS, by: glue.drive, stop at: [over runs <= 2]}]", "6:56", "over runs", "stop at"),
        ("reach: [{noise floor: -60 dBFS, by: glue.drive}]", "6:10", "noise floor", "reach"),
    ],
)
def test_what_excerpts_do_not_tell_is_refused_where_it_is_asked_for(problems, lines, place, name, where):
    assert faults(problems(f"{CHAIN}{lines}\n")) == [
        (place, f"excerpts do not tell {name}, which '{where}' asks for",
         f"take it out, or {OR_WHOLE} in 'explore'")]  # fmt: skip


def test_a_preference_that_excerpts_do_not_tell_is_refused(problems):
    assert [what for _, what, _ in faults(problems(CHAIN.replace("crest.loud highest", "longest over lowest")))] == [
        "excerpts do not tell longest over, which 'prefer' asks for"]  # fmt: skip


def test_rides_cannot_be_followed(problems):
    rides = "rides: [{name: lift, set: glue.input trim, by: 2 dB, in: [\"0:10-0:20\"]}]"
    assert faults(problems(f"{CHAIN}{rides}\n")) == [
        ("5:1", "excerpts cannot follow 'rides': they are parts of the mix, joined", OR_WHOLE)]  # fmt: skip


def test_what_stands_outside_gets_the_whole_mix(problems):
    outside = CHAIN.replace("[{name: glue", "[{name: tape, outside: the machine}, {name: glue")
    assert faults(problems(outside)) == [
        ("5:1", "excerpts cannot be sent out: 'tape' stands outside and gets the whole mix", OR_WHOLE)]  # fmt: skip


def test_all_of_it_may_be_asked_for_of_the_whole(load):
    whole = CHAIN.replace("listen to: excerpts", "listen to: whole")
    chain = load(f"{whole}limits: [overs <= 0, noise floor <= -70 dBFS, over runs <= 1, longest over <= 2 ms]\n")
    assert {limit.key for limit in chain.limits} == UNTOLD


def test_what_they_tell_is_not_refused(load):
    chain = load(f"{CHAIN}limits: [loudness range >= 3 LU, short-term max <= -8 LUFS, psr >= 8 dB, "
                 "glue.attenuation <= 3 dB]\n")  # fmt: skip
    assert chain.explore.excerpts and len(chain.limits) == 4
