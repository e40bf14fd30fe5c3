"""Which stages of a variant are looked at, and why others are not."""

from __future__ import annotations

from dataclasses import replace

from sweeper.chain.model import Channels
from sweeper.host.setup import StageSetup
from sweeper.render.inside import BEFORE_RETURN, BYPASSED, NOT_IN, ONE_OUTSIDE
from sweeper.render.job import Look
from sweeper.render.looks import every_look, looks_for


def one(name: str, **changes: object) -> StageSetup:
    return replace(StageSetup(name, f"{name}.vst3", None, Channels.STEREO, (), 0.0, 0.0, False), **changes)


TUBE, GLUE, LIMITER = one("tube"), one("glue"), one("limiter")


def test_one_look_a_stage_and_only_at_what_is_named():
    keys = ["glue.residue_db", "glue.attenuation_most_db", "limiter.distortion_pct", "residue_db", "distortion_pct"]
    looks, unseen = looks_for([TUBE, GLUE, LIMITER], keys, {GLUE: -90.0, TUBE: None})
    assert looks == (Look(1, tone=False, repeats_dbfs=-90.0), Look(2, music=False), Look(None, repeats_dbfs=-90.0))
    assert unseen == {}


def test_what_cannot_be_looked_at_says_why():
    off, reel = replace(GLUE, bypass=True), one("reel", path="", outside="tape")
    keys = ["glue.residue_db", "gone.residue_db", "tube.residue_db", "limiter.residue_db", "residue_db"]
    looks, unseen = looks_for([TUBE, off, reel, LIMITER], keys, {})
    assert looks == (Look(3, tone=False),)
    assert unseen == {"glue.residue_db": BYPASSED, "gone.residue_db": NOT_IN, "tube.residue_db": BEFORE_RETURN,
                      "residue_db": ONE_OUTSIDE}  # fmt: skip
    assert looks_for([TUBE, replace(reel, bypass=True)], ["residue_db"], {})[0] == (Look(None, tone=False),)


def test_everything_is_the_chain_and_all_that_is_heard():
    fader = one("lift", path="", bus="lift", is_fader=True)
    stages = [TUBE, replace(GLUE, bus="lift"), fader, replace(one("off"), bypass=True), LIMITER]
    assert [look.stage for look in every_look(stages, {})] == [None, 0, 1, 4]
    assert [look.stage for look in every_look([TUBE, one("reel", path="", outside="tape"), LIMITER], {})] == [2]
