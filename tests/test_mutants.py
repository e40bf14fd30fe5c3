"""Every breakage in mutants.py turns a test red, and the machinery that says so can be believed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from mutants import MUTANTS, ROOT, InvalidMutant, broken, copied, first_failure, in_copy, judged

#: Any mutant with a test that takes no time.
QUICK = next(mutant for mutant in MUTANTS if mutant.name == "limits-inverted")
NAMED = sorted({test for mutant in MUTANTS for test in mutant.tests})
WHERE = """
def sweeper_file(argument, report):
    import sweeper
    return sweeper.__file__

if __name__ == "__main__":
    from sweeper.workers import Pool, Task
    with Pool(1) as pool:
        (done,) = pool.map_in_order([Task("one", "where:sweeper_file", None, "")])
    print(sweeper_file(None, None), done.value, sep="\\n")
"""


def test_every_breakage_has_its_place_in_the_code_and_its_tests_exist():
    for mutant in MUTANTS:
        broken((ROOT / "sweeper" / mutant.file).read_text("utf-8"), mutant)
    assert len({mutant.name for mutant in MUTANTS}) == len(MUTANTS)
    for test in NAMED:
        file, _, function = test.partition("[")[0].partition("::")
        assert not function or f"\ndef {function}(" in (ROOT / file).read_text("utf-8"), test
        assert (ROOT / file).is_file(), test


@pytest.mark.long
@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.name)
def test_a_breakage_turns_a_test_red(mutant):
    assert judged(mutant).killed, f"nothing notices it; tried {', '.join(mutant.tests)}"


@pytest.mark.long
def test_the_named_tests_pass_where_nothing_is_broken(tmp_path):
    copied(tmp_path)
    assert first_failure(tmp_path, NAMED, timeout_s=3000) == ""


@pytest.mark.long
def test_parent_and_workers_import_the_copy(tmp_path):
    copied(tmp_path)
    (tmp_path / "where.py").write_text(WHERE, "utf-8")
    printed = in_copy(tmp_path, ["where.py"]).stdout.split()
    assert printed == [str(tmp_path / "sweeper" / "__init__.py")] * 2


@pytest.mark.long
def test_a_breakage_that_nothing_notices_survives():
    harmless = replace(QUICK, old='"""Limits: what', new='"""Limits, what')
    assert not judged(harmless).killed


@pytest.mark.long
@pytest.mark.parametrize(
    "change",
    [{"new": "limit.relation ="}, {"new": "limit_relation == 1"}, {"tests": ("tests/verdict/test_no_such.py",)},
     {"tests": ("tests/verdict/test_limits.py::test_no_such",)}, {"new": QUICK.old}, {"old": "value"}],
    ids=["no Python", "no such name", "no such file", "no such test", "no change", "many places"],
)  # fmt: skip
def test_what_cannot_be_judged_is_not_called_killed(change):
    with pytest.raises(InvalidMutant):
        judged(replace(QUICK, **change))


@pytest.mark.long
def test_a_test_that_cannot_be_set_up_has_noticed_nothing(tmp_path: Path):
    copied(tmp_path)
    (tmp_path / "tests" / "test_it.py").write_text(
        "import pytest\n@pytest.fixture\ndef broken(): assert False\ndef test_it(broken): pass\n", "utf-8"
    )
    with pytest.raises(InvalidMutant, match="not for a test"):
        first_failure(tmp_path, ["tests/test_it.py"])
