from __future__ import annotations

from sweeper.chain.kept_files import kept_files

TEXT = """mixes:
  - {file: a.wav, sections: {verse: "0:00-0:10", chorus: "0:10-0:20"}}
  - b.wav
references: [old.flac]
prefer: [crest highest]
audition: {match over: [chorus], keep: 3}
"""


def test_files_and_sections_are_known_though_the_files_have_gone(tmp_path):
    found = kept_files(TEXT, tmp_path / "tin.chain.yaml")
    assert [mix.written for mix in found.mixes] == ["a.wav", "b.wav"]
    assert found.mixes[0].file == tmp_path / "a.wav"
    sections = [(one.name, one.start_s, one.end_s) for one in found.mixes[0].sections]
    assert sections == [("verse", 0, 10), ("chorus", 10, 20)]
    assert [one.file for one in found.references] == [tmp_path / "old.flac"]
    assert found.match_over == ("chorus",)


def test_of_the_shortest_chain_file_there_is_a_mix_and_nothing_else(tmp_path):
    found = kept_files("mix: a.wav\n", tmp_path / "tin.chain.yaml")
    assert ([mix.written for mix in found.mixes], found.references, found.match_over) == (["a.wav"], (), ())


def test_a_text_that_is_no_chain_file_names_none(tmp_path):
    assert kept_files("- a\n- b\n", tmp_path / "x").mixes == ()
