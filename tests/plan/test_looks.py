"""What a chain file wants looked into, by what it names."""

from __future__ import annotations

from sweeper.plan.looks import keys_each_pass, keys_once


def test_a_reach_needs_it_after_every_pass_the_rest_once(tmp_path):
    from sweeper.chain import load_chain

    (tmp_path / "a.wav").write_bytes(b"")
    (tmp_path / "c.yaml").write_text(
        "mix: a.wav\noutput: [{name: one, plugin: A, drive: raise X}, {name: two, plugin: B, drive: raise Y}]\n"
        "reach:\n  - {loudness: -9, by: one.drive, stop at: [two.residue <= -30 dB, crest >= 8 dB]}\n"
        "  - {two.attenuation: 2 dB, by: two.drive}\n"
        "limits: [one.distortion <= 1 %, two.residue <= -20 dB, true peak <= -1 dBTP]\nprefer: [residue lowest]\n"
    )
    chain = load_chain(tmp_path / "c.yaml")
    assert keys_each_pass(chain) == ("two.residue_db", "two.attenuation_db")
    assert keys_once(chain) == ("two.residue_db", "two.attenuation_db", "one.distortion_pct", "residue_db")
