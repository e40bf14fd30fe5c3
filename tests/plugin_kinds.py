"""Test plugins that are no plain effects: an instrument, and a bundle that holds several plugins.

They are built apart from plugin_builder's own, which every test of effects runs through.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path

import plugin_builder as builder

INSTRUMENT = "Probe Instrument"


def instrument(target: Path) -> Path:
    """target/Probe Instrument.vst3: no inputs, two outputs, wants notes."""
    effect = builder._info_header(2, False, INSTRUMENT, {})
    info = effect.replace("NUM_INPUTS 2", "NUM_INPUTS 0") + "#define DISTRHO_PLUGIN_IS_SYNTH 1\n"
    sources = [builder.SOURCES / "instrument.cpp", builder.FRAMEWORK / "distrho" / "DistrhoPluginMain.cpp"]
    written = [sources[0].read_text(), (builder.SOURCES / "probe.hpp").read_text()]
    key = builder._digest(info, builder._toolchain(), *written)

    def compile_into(folder: Path) -> Path:
        (folder / "DistrhoPluginInfo.h").write_text(info, encoding="utf-8")
        exported = f"-Wl,--version-script={builder.FRAMEWORK}/utils/symbols/vst3.version"
        builder._compile(INSTRUMENT, f"-I{folder}", f"-I{builder.SOURCES}", "-DDISTRHO_PLUGIN_TARGET_VST3",
                         *map(str, sources), "-shared", exported, "-ldl", "-o", str(folder / "plugin.so"))  # fmt: skip
        return folder / "plugin.so"

    return _bundle(target, INSTRUMENT, builder._cached(builder._user_cache() / f"{key}.so", compile_into))


def shell(target: Path, title: str = "Probe Shell", inner: Sequence[str] = ("gain", "witness")) -> Path:
    """target/TITLE.vst3, which holds the two plugins of plugin_builder that `inner` names."""
    source = builder.SOURCES / "shell.cpp"
    key = builder._digest("shell", builder._toolchain(), source.read_text())

    def compile_into(folder: Path) -> Path:
        headers = f"-I{builder.FRAMEWORK}/distrho/src"
        builder._compile(title, headers, str(source), "-shared", "-ldl", "-o", str(folder / "shell.so"))
        return folder / "shell.so"

    bundle = _bundle(target, title, builder._cached(builder._user_cache() / f"{key}.so", compile_into))
    with tempfile.TemporaryDirectory() as folder:
        for number, name in enumerate(inner, 1):
            (program,) = builder.build(name, Path(folder)).glob("Contents/*/*.so")
            builder._put_in_place(program, bundle / "Contents" / "Resources" / f"{number}.so")
    return bundle


def described_on_disk(bundle: Path, names: Sequence[str], categories: Sequence[str] = ("Fx",), maker: str = "") -> None:
    """Gives a bundle a moduleinfo.json with a class for each name (VST3 developer documentation, from memory)."""
    classes = [
        {"CID": f"{number:032X}", "Category": "Audio Module Class", "Name": name, "Sub Categories": list(categories)}
        for number, name in enumerate(names)
    ]
    info = {"Name": bundle.stem, "Version": "1.0.0", "Factory Info": {"Vendor": maker}, "Classes": classes}
    place = bundle / "Contents" / "Resources"
    place.mkdir(parents=True, exist_ok=True)
    (place / "moduleinfo.json").write_text(json.dumps(info), "utf-8")


def replaced(bundle: Path, by: Path) -> None:
    """Puts another bundle's program in place of a bundle's own, as an update does."""
    (program,) = bundle.glob("Contents/*/*.so")
    (new,) = by.glob("Contents/*/*.so")
    program.unlink()
    shutil.copyfile(new, program)


def _bundle(target: Path, title: str, program: Path) -> Path:
    bundle = target / f"{title}.vst3"
    builder._put_in_place(program, bundle / "Contents" / f"{builder._processor()}-linux" / f"{title}.so")
    return bundle
