"""A setting that only some alternatives have is varied where it exists; one that none has is a fault."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.audio import AudioFormat
from sweeper.chain import load_chain
from sweeper.host.question import Answer, Fault
from sweeper.plan.lacking import Lacking
from sweeper.plan.questions import questions

TEXT = """mix: a.wav
inserts:
  - {name: colour, any of: [{plugin: Valve}, {plugin: Iron}, {plugin: Tape}]}
  - {name: eq, plugin: EQ}
vary:
  colour.Mix: [1, 2]
  colour.Warmth: [3]
  eq.Width: [4]
"""


@pytest.fixture
def lacking(tmp_path: Path):
    """What is made of the answers; missing: (alternative, setting) of which the plugin has none."""
    (tmp_path / "a.wav").write_bytes(b"")
    (tmp_path / "c.yaml").write_text(TEXT)
    chain = load_chain(tmp_path / "c.yaml")

    def made(*missing: tuple[str, str], formats: int = 1, unanswered: str = "", otherwise: bool = True) -> Lacking:
        paths = {(choice.name, choice.label): choice.plugin for stage in chain.stages for choice in stage.choices}
        placed = questions(chain, paths, [AudioFormat(2, 44100 + n) for n in range(formats)], 1024, 60.0)
        answered = []
        for one in placed:
            faults = tuple(Fault(number, f"no setting is called '{asked.name}'", "", otherwise)
                           for number, asked in enumerate(one.question.asked)
                           if (one.question.path, asked.name) in missing)  # fmt: skip
            if one.question.path != unanswered:
                answered.append((one, Answer(None, faults)))
        return Lacking(chain, answered)

    return made


def pairs(found: Lacking) -> set[tuple[str, str]]:
    return {(label, str(ref)) for (_, label), ref in found.settings}


def test_what_all_have_is_lacking_nowhere(lacking):
    found = lacking()
    assert (found.settings, found.warnings, found.problems) == (frozenset(), (), [])


def test_what_one_has_not_is_a_warning_whatever_the_number_of_values_and_formats(lacking):
    for formats in (1, 2):
        found = lacking(("Iron", "Mix"), ("Tape", "Mix"), ("Iron", "Warmth"), formats=formats)
        assert pairs(found) == {("Iron", "colour.Mix"), ("Tape", "colour.Mix"), ("Iron", "colour.Warmth")}
        assert found.warnings == (
            "'colour.Mix' is varied where it exists: 'Iron' has no such setting",
            "'colour.Mix' is varied where it exists: 'Tape' has no such setting",
            "'colour.Warmth' is varied where it exists: 'Iron' has no such setting",
        )
        assert found.problems == []


def test_what_none_has_is_a_fault_of_each_at_its_line(lacking):
    found = lacking(("Valve", "Warmth"), ("Iron", "Warmth"), ("Tape", "Warmth"), ("Iron", "Mix"))
    assert [(problem.line, problem.what) for problem in found.problems] == [
        (7, f"stage 'colour' ({label}): no setting is called 'Warmth'") for label in ("Valve", "Iron", "Tape")]


def test_an_alternative_that_would_not_load_is_not_asked_for_its_settings(lacking):
    assert len(lacking(("Iron", "Warmth"), ("Tape", "Warmth"), unanswered="Valve").problems) == 2
    assert lacking(("Iron", "Warmth"), unanswered="Valve").problems == []


def test_a_stage_without_alternatives_lacks_nothing_in_this_sense(lacking):
    found = lacking(("EQ", "Width"))
    assert (found.settings, found.problems) == (frozenset(), []), "an ordinary fault, told elsewhere"


def test_a_fault_of_another_kind_is_no_lack(lacking):
    assert lacking(("Iron", "Mix"), otherwise=False).settings == frozenset()
