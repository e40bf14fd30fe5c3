"""What `demo/run.py` does, step by step."""

from __future__ import annotations

import argparse
import hashlib
import time
from pathlib import Path

from setup_env import (
    FOLDER,
    PYTHON,
    ROOT,
    SWEEPER,
    SetupError,
    clock,
    exit_code_of,
    quietly,
    ready_environment,
    said,
)

DEMO = ROOT / "demo"
CHAIN = DEMO / "chain.yaml"
MIX = DEMO / "tin-boats.wav"
GENERATOR = tuple(DEMO / name for name in ("make_mix.py", "song.py", "sounds.py"))
RESULTS = ROOT / "results"
#: Tells which seed and generator made the mix that is there.
MIX_STAMP = FOLDER / "demo-mix.txt"


def main(arguments: list[str]) -> int:
    """The command line; returns the exit code of the run, or 1 where it did not come to it."""
    chosen = _chosen(arguments)
    began = time.perf_counter()
    try:
        ready_environment()
        _make_mix(chosen.seed)
    except SetupError as exc:
        said(str(exc))
        return 1
    set_up_s = time.perf_counter() - began
    before = _run_folders()
    began = time.perf_counter()
    code = exit_code_of([str(SWEEPER), "run", str(CHAIN), "--results", str(RESULTS)])
    _report(set_up_s, time.perf_counter() - began, sorted(_run_folders() - before), code)
    return code


def _chosen(arguments: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="demo/run.py", description="Make a mix, master it in six ways, and say where to listen."
    )
    parser.add_argument("--seed", type=_seed, metavar="N", help="make another mix: 0 or more")
    return parser.parse_args(arguments)


def _seed(text: str) -> int:
    if not text.isdecimal():
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number, 0 or more")
    return int(text)


def _make_mix(seed: int | None) -> None:
    """Make the demo's mix unless the one that is there is that of this seed and this generator."""
    recipe = hashlib.sha256(repr(seed).encode() + b"".join(file.read_bytes() for file in GENERATOR)).hexdigest()
    stamped = MIX_STAMP.read_text(encoding="utf-8") if MIX_STAMP.is_file() else ""
    if MIX.is_file() and stamped == f"{recipe} {_hash(MIX)}":
        return
    said("making the demo's mix, demo/tin-boats.wav")
    beside = MIX.with_suffix(".part.wav")
    command = [str(PYTHON), str(GENERATOR[0]), str(beside)] + ([] if seed is None else ["--seed", str(seed)])
    quietly(command, "the demo's mix could not be made (the reason stands above)")
    beside.replace(MIX)
    MIX_STAMP.write_text(f"{recipe} {_hash(MIX)}", encoding="utf-8")


def _hash(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()


def _run_folders() -> set[Path]:
    return {entry for entry in RESULTS.iterdir() if entry.is_dir()} if RESULTS.is_dir() else set()


def _report(set_up_s: float, run_s: float, folders: list[Path], code: int) -> None:
    said(f"\nset-up {clock(set_up_s)}, run {clock(run_s)}")
    if code not in (0, 1, 4) or not folders:
        said(f"the run ended with exit code {code}; what went wrong stands above")
        return
    variants = folders[-1].relative_to(ROOT) / "variants"
    said(f"listen in {variants}: every matched.wav is equally loud, so that louder does not pass for better;")
    said("every render.wav is at the level of delivery, far louder than the mix. Start at a low level.")
