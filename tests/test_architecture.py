"""The house: imports point one way, every module has its test, files and functions stay short."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MODULES = sorted((ROOT / "sweeper").rglob("*.py"))


def functions(module: Path) -> list[ast.FunctionDef]:
    return [node for node in ast.walk(ast.parse(module.read_text("utf-8"))) if isinstance(node, ast.FunctionDef)]


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_modules_and_functions_stay_short(module):
    assert module.read_text("utf-8").count("\n") <= 400
    longest = max((f.end_lineno - f.lineno + 1 for f in functions(module)), default=0)
    assert longest <= 60


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_public_functions_are_documented_and_only_the_command_line_prints(module):
    tree = ast.parse(module.read_text("utf-8"))
    assert ast.get_docstring(tree), "a module says what it is"
    public = [n for n in tree.body if isinstance(n, ast.FunctionDef | ast.ClassDef) and not n.name.startswith("_")]
    assert [node.name for node in public if not ast.get_docstring(node)] == []
    prints = [n for n in ast.walk(tree) if isinstance(n, ast.Call) and getattr(n.func, "id", "") == "print"]
    assert "cli" in module.parts or not prints


def test_help_answers_without_heavy_imports():
    code = (
        "import sys, sweeper.cli.main as m; m.exit_code(['--help']); "
        "print([x for x in ('numpy', 'scipy', 'pandas', 'rich', 'pedalboard') if x in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


#: What takes half a second and more to load, and is wanted in a few places only.
HEAVY = ("scipy.signal", "scipy.stats", "scipy.optimize", "pandas", "optuna", "numba")
LEADERS = ("pipeline", "recall.again", "delivery.delivering", "album.assembling")
WORKERS = ("render.task", "render.step_task", "render.file_tasks", "delivery.printing", "host.tasks")


@pytest.mark.parametrize("module", [*LEADERS, *WORKERS])
def test_a_command_and_a_worker_begin_without_what_they_may_not_need(module):
    heavy = (*HEAVY, "scipy.fft", "scipy.ndimage") if module in LEADERS else HEAVY
    code = f"import sys, sweeper.{module}; print([x for x in {heavy} if x in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_every_command_has_help_with_an_example_and_a_section_in_the_readme():
    from sweeper.cli.main import VERBS

    readme = (ROOT / "README.md").read_text("utf-8")
    for verb in VERBS:
        code = f"import sweeper.cli.main as m; m.exit_code([{verb!r}, '--help'])"
        shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
        assert f"sweeper {verb}" in shown.split("\n", 2)[2], "an example"
        assert "--json" in shown
        assert f"### sweeper {verb}" in readme


def test_every_key_and_every_quantity_is_in_the_readme():
    from sweeper.chain import KEYS
    from sweeper.quantities import QUANTITIES

    readme = (ROOT / "README.md").read_text("utf-8")
    wanted = {key for keys in KEYS.values() for key in keys} | {q.key for q in QUANTITIES}
    assert [word for word in sorted(wanted) if word not in readme] == []


def test_the_readmes_first_chain_file_is_read_without_a_fault(tmp_path):
    from sweeper.chain import load_chain

    text = (ROOT / "README.md").read_text("utf-8").split("```yaml\n")[1].split("```")[0]
    assert len(text.splitlines()) <= 10
    (tmp_path / "mix.wav").write_bytes(b"")
    (tmp_path / "first.chain.yaml").write_text(text)
    assert len(load_chain(tmp_path / "first.chain.yaml").stages) == 3
