"""Builds the test plugins of tests/plugins into real VST3 bundles, with Debian's g++ and dpf-source alone.

A plugin is one C++ file; what differs between builds of it (a gain in dB, a latency, a fault) is a constant
that the compiler is given. A host shows the plugin `gain` as "Probe Gain".

The framework is compiled once for each shape (channels, latency) and linked into every plugin. What was built
is kept in a cache folder under a hash of everything that went into it, and put in place by a rename, so that
any number of test processes may build at the same time.
"""

from __future__ import annotations

import functools
import getpass
import hashlib
import math
import os
import shutil
import subprocess
import tempfile
import zlib
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeAlias

SOURCES = Path(__file__).parent / "plugins"
FRAMEWORK = Path("/usr/share/dpf")
COMPILER = "g++"
COMPILER_FLAGS = ("-std=gnu++17", "-O1", "-fPIC", "-fvisibility=hidden", f"-I{FRAMEWORK}/distrho")
MAKER = "Sweeper tests"

Constant: TypeAlias = int | float | str
"""A number, or a name that means something in the plugin's source."""


class ToolsMissingError(RuntimeError):
    """The compiler or the plugin framework is not installed."""


class BuildError(RuntimeError):
    """The compiler refused a plugin; the message holds what it said."""


@dataclass(frozen=True)
class Recipe:
    """How one plugin is made.

    source: its file in tests/plugins, without ".cpp". channels: inputs, and as many outputs. has_latency:
    whether the plugin reports one (the host then sees a hidden setting "Latency" too). constants: those that
    `build` may change, with what they are otherwise. fixed: those that make the plugin what it is.
    """

    source: str
    channels: int = 2
    has_latency: bool = False
    constants: Mapping[str, Constant] = field(default_factory=dict)
    fixed: Mapping[str, Constant] = field(default_factory=dict)


def _fault(fault: str, moment: str, constants: Mapping[str, Constant]) -> Recipe:
    unused: dict[str, Constant] = {"AFTER_FRAMES": 0, "SECONDS": 0.0}
    fixed = {key: value for key, value in unused.items() if key not in constants}
    return Recipe("fault", constants=constants, fixed={**fixed, "FAULT": fault, "MOMENT": moment})


def _faults() -> dict[str, Recipe]:
    sounding: dict[str, Constant] = {"AFTER_FRAMES": 8192}  # more than the noise pedalboard plays at load
    deadly = ("segfault", "abort", "exit0", "hang", "endless", "memory")
    return {
        **{f"{fault}_load": _fault(fault, "load", {}) for fault in deadly},
        **{f"{fault}_set": _fault(fault, "set", {}) for fault in deadly},
        **{
            f"{fault}_process": _fault(fault, "process", sounding)
            for fault in (*deadly, "nan", "inf", "noise", "chatter")
        },
        **{f"{fault}_close": _fault(fault, "close", sounding) for fault in deadly},
        "latency_process": replace(_fault("latency", "process", sounding), has_latency=True),
        "slow_load": _fault("slow", "load", {"SECONDS": 3.0}),
        "slow_load_within": _fault("slow", "load", {"SECONDS": 1.0}),
        "refuse_set": _fault("refuse", "set", {}),
    }


RECIPES: Mapping[str, Recipe] = {
    "witness": Recipe("witness"),
    "gain": Recipe("gain", constants={"GAIN_DB": -6.25}),
    "mono_gain": Recipe("gain", channels=1, constants={"GAIN_DB": 0.0}),
    "delay_honest": Recipe(
        "delay", has_latency=True, constants={"DELAY_FRAMES": 441}, fixed={"REPORTED_FRAMES": "DELAY_FRAMES"}
    ),
    "delay_lying": Recipe(
        "delay", has_latency=True, constants={"DELAY_FRAMES": 441, "REPORTED_FRAMES": 64}
    ),
    "delay_set": Recipe("delay_set", has_latency=True),
    "shaper": Recipe("shaper"),
    "compressor": Recipe("compressor", constants={"RELEASE_S": 0.1}),
    "limiter": Recipe("limiter", has_latency=True, constants={"AHEAD": 255}),
    "slow": Recipe("slow", constants={"TIMES_REAL_TIME": 1.0}),
    "twin_names": Recipe("twin_names"),
    "many_settings": Recipe("many_settings", constants={"COUNT": 2000}),
    "choices": Recipe("choices"),
    "ageing": Recipe("ageing"),
    "wandering": Recipe("wandering"),
    "state_wrong": Recipe("state_wrong", fixed={"FAULT": "halves"}),
    "state_ignored": Recipe("state_wrong", fixed={"FAULT": "ignores"}),
    "state_forgetful": Recipe("state_wrong", fixed={"FAULT": "loses"}),
    "state_meters": Recipe("state_wrong", fixed={"FAULT": "meters"}),
    "slow_text": Recipe("slow_text", constants={"COUNT": 20, "MS_A_TEXT": 5.0}),
    "late": Recipe("unhurried", constants={"AFTER_BLOCKS": 6}, fixed={"OVER_BLOCKS": 0}),
    "gliding": Recipe("unhurried", constants={"OVER_BLOCKS": 8}, fixed={"AFTER_BLOCKS": 0}),
    **_faults(),
}
"""Every plugin by name. `FAULT_MOMENT` names the ones that misbehave; see tests/plugins/fault.cpp."""


def title_of(name: str) -> str:
    """The name a host shows for the plugin `name`: title_of("mono_gain") is "Probe Mono Gain"."""
    return "Probe " + name.replace("_", " ").title()


def build(
    name: str, target: Path, *, title: str = "", cache: Path | None = None, **constants: Constant
) -> Path:
    """Build the plugin `name` as target/TITLE.vst3 and return that bundle's path.

    constants: the recipe's constants to change, such as GAIN_DB=3.5. title: a name other than the usual one,
    for a second plugin of the same kind. cache: where compiled code is kept; by default a folder of the
    user's among the temporary files. Raises KeyError for an unknown plugin, TypeError for a constant that it
    does not have, ToolsMissingError and BuildError.
    """
    _require_tools()
    recipe = RECIPES[name]
    if unknown := constants.keys() - recipe.constants.keys():
        raise TypeError(f"{name} has no constant {sorted(unknown)}; it has {sorted(recipe.constants)}")
    title = title or title_of(name)
    library = _plugin_library(recipe, title, {**recipe.constants, **constants}, cache or _user_cache())
    bundle = target / f"{title}.vst3"
    _put_in_place(library, bundle / "Contents" / f"{_processor()}-linux" / f"{title}.so")
    return bundle


def build_all(target: Path, cache: Path | None = None) -> dict[str, Path]:
    """Build every plugin with its usual constants, two compilers at a time; bundle paths by plugin name."""
    _require_tools()
    kept = cache or _user_cache()
    shapes = {(recipe.channels, recipe.has_latency) for recipe in RECIPES.values()}
    with ThreadPoolExecutor(max_workers=2) as compilers:
        list(compilers.map(lambda shape: _framework_object(shape[0], shape[1], kept), shapes))
        bundles = compilers.map(lambda name: build(name, target, cache=kept), RECIPES)
        return dict(zip(RECIPES, bundles, strict=True))


@dataclass(frozen=True)
class Witnessed:
    """One line of what the plugin `witness` saw; see tests/plugins/witness.cpp.

    instance: its own number for each instance. event: instantiate, activate, run, deactivate or destruct.
    """

    pid: int
    instance: int
    event: str
    frames: int


def read_witness(file: Path) -> list[Witnessed]:
    """The events in the file that SWEEPER_WITNESS named, oldest first."""
    rows = (line.split(" ") for line in file.read_text(encoding="ascii").splitlines())
    return [Witnessed(int(pid), int(instance), event, int(frames)) for pid, instance, event, frames in rows]


def _require_tools() -> None:
    missing = [] if shutil.which(COMPILER) else [f"the compiler {COMPILER}"]
    if not (FRAMEWORK / "distrho" / "DistrhoPluginMain.cpp").is_file():
        missing.append(f"the plugin framework in {FRAMEWORK}")
    if missing:
        raise ToolsMissingError(
            f"The test plugins cannot be built: {' and '.join(missing)} is not installed.\n"
            "    On Debian or Ubuntu: sudo apt-get install g++ dpf-source"
        )


def _plugin_library(recipe: Recipe, title: str, constants: Mapping[str, Constant], cache: Path) -> Path:
    source = SOURCES / f"{recipe.source}.cpp"
    info = _info_header(recipe.channels, recipe.has_latency, title, {**constants, **recipe.fixed})
    framework = _framework_object(recipe.channels, recipe.has_latency, cache)
    key = _digest(info, framework.stem, source.read_text(), (SOURCES / "probe.hpp").read_text())

    def compile_into(folder: Path) -> Path:
        (folder / "DistrhoPluginInfo.h").write_text(info, encoding="utf-8")
        library = folder / "plugin.so"
        exported = f"-Wl,--version-script={FRAMEWORK}/utils/symbols/vst3.version"
        _compile(
            title, "-Wall", f"-I{folder}", f"-I{SOURCES}", str(source), str(framework),
            "-shared", exported, "-Wl,--no-undefined", "-Wl,--strip-all", "-ldl", "-o", str(library),
        )  # fmt: skip
        return library

    return _cached(cache / f"{key}.so", compile_into)


def _framework_object(channels: int, has_latency: bool, cache: Path) -> Path:
    # Nothing that names a plugin reaches this object: Probe overrides every method that returns such a thing.
    info = _info_header(channels, has_latency, "Probe", {})
    key = _digest(info, _toolchain())

    def compile_into(folder: Path) -> Path:
        (folder / "DistrhoPluginInfo.h").write_text(info, encoding="utf-8")
        compiled = folder / "framework.o"
        _compile(
            "The plugin framework", f"-I{folder}", "-DDISTRHO_PLUGIN_TARGET_VST3",
            "-c", f"{FRAMEWORK}/distrho/DistrhoPluginMain.cpp", "-o", str(compiled),
        )  # fmt: skip
        return compiled

    return _cached(cache / f"{key}.o", compile_into)


def _info_header(channels: int, has_latency: bool, title: str, constants: Mapping[str, Constant]) -> str:
    facts: dict[str, Constant] = {
        "DISTRHO_PLUGIN_NAME": f'"{title}"',
        "DISTRHO_PLUGIN_URI": f'"urn:sweeper-tests:{title.replace(" ", "-")}"',
        "DISTRHO_PLUGIN_NUM_INPUTS": channels,
        "DISTRHO_PLUGIN_NUM_OUTPUTS": channels,
        "DISTRHO_PLUGIN_WANT_LATENCY": int(has_latency),
        "DISTRHO_PLUGIN_WANT_PARAMETER_VALUE_CHANGE_REQUEST": 1,
        "PROBE_MAKER": f'"{MAKER}"',
        "PROBE_UNIQUE_ID": f"0x{zlib.crc32(title.encode()):08x}",
        **{key: _literal(value) for key, value in constants.items()},
    }
    return "".join(f"#define {key} {value}\n" for key, value in facts.items())


def _literal(value: Constant) -> str:
    if isinstance(value, str) and value.isidentifier():
        return value
    if isinstance(value, int | float) and math.isfinite(value):
        return f"({float(value)!r})" if isinstance(value, float) else f"({value:d})"
    raise TypeError(f"{value!r} is neither a finite number nor a name, so C++ cannot be given it")


def _compile(what: str, *arguments: str) -> None:
    command = [COMPILER, *COMPILER_FLAGS, *arguments]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise BuildError(f"{what} did not compile:\n{done.stderr}{done.stdout}")


def _cached(kept: Path, compile_into: Callable[[Path], Path]) -> Path:
    if not kept.is_file():
        kept.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix="building-", dir=kept.parent) as folder:
            compile_into(Path(folder)).replace(kept)
    return kept


def _put_in_place(library: Path, destination: Path) -> None:
    destination.parent.mkdir(parents=True, exist_ok=True)
    handle, waiting = tempfile.mkstemp(dir=destination.parent)
    os.close(handle)
    shutil.copy(library, waiting)
    Path(waiting).replace(destination)


def _user_cache() -> Path:
    return Path(tempfile.gettempdir()) / f"sweeper-test-plugins-{getpass.getuser()}"


def _digest(*texts: str) -> str:
    return hashlib.sha256("\0".join(texts).encode()).hexdigest()[:32]


@functools.cache
def _toolchain() -> str:
    version = subprocess.run([COMPILER, "--version"], capture_output=True, text=True, check=True).stdout
    sources = sorted(path for path in (FRAMEWORK / "distrho").rglob("*") if path.is_file())
    return _digest(version, *COMPILER_FLAGS, *(path.read_text(errors="replace") for path in sources))


@functools.cache
def _processor() -> str:
    machine = subprocess.run([COMPILER, "-dumpmachine"], capture_output=True, text=True, check=True).stdout
    return machine.partition("-")[0]
