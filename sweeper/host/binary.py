"""Which system and processor a program file was built for, read from its first bytes.

Sources (numbers from memory of them): ELF, System V ABI, "ELF Header"; PE, Microsoft's "PE Format", "COFF File Header";
Mach-O and its files for several processors, Apple's mach-o/loader.h, mach-o/fat.h and mach/machine.h.
"""

from __future__ import annotations

import platform
import struct
import sysconfig
from pathlib import Path
from typing import NamedTuple

_ELF_MACHINES = {3: "x86", 40: "ARM", 62: "x86-64", 183: "ARM64"}
_PE_MACHINES = {0x14C: "x86", 0x8664: "x86-64", 0xAA64: "ARM64", 0xA641: "ARM64", 0xA64E: "ARM64"}
_MACH_CPUS = {7: "x86", 0x01000007: "x86-64", 0x0100000C: "ARM64"}
_MACH_MAGICS = {0xFEEDFACE, 0xFEEDFACF}
_FAT_ENTRY_BYTES = {0xCAFEBABE: 20, 0xCAFEBABF: 32}
_MOST_FAT_ENTRIES = 16  # a Java class file has the same first bytes, and a large number here
_ENOUGH_BYTES = 4096
_SYSTEMS = {"Darwin": "macOS"}
#: Of `sysconfig.get_platform` (Python's documentation).
_WINDOWS = {"win-amd64": "amd64", "win-arm64": "arm64", "win32": "x86"}
_PROCESSORS = {"x86_64": "x86-64", "amd64": "x86-64", "arm64": "ARM64", "aarch64": "ARM64", "i386": "x86",
               "i686": "x86", "x86": "x86", "armv7l": "ARM"}  # fmt: skip


class Target(NamedTuple):
    """What a program runs on. system: Linux, macOS or Windows. processor: "" = not known."""

    system: str
    processor: str

    def __str__(self) -> str:
        return f"{self.system} on {self.processor}" if self.processor else self.system


def this_machine() -> Target:
    """What Python runs on here; of a processor that is being imitated, the imitation."""
    machine = platform.machine().lower()
    if platform.system() == "Windows":  # the system names the processor, not what Python was built for
        machine = _WINDOWS.get(sysconfig.get_platform(), machine)
    return Target(_SYSTEMS.get(platform.system(), platform.system()), _PROCESSORS.get(machine, machine))


def built_for(file: Path) -> tuple[Target, ...]:
    """What a program file was built for; several for a macOS file with several. Empty: it is no program.

    Raises OSError when the file cannot be read.
    """
    with file.open("rb") as handle:
        head = handle.read(_ENOUGH_BYTES)
    if head[:4] == b"\x7fELF":
        return _elf(head)
    if head[:2] == b"MZ":
        return _pe(head)
    return _mach(head)


def _elf(head: bytes) -> tuple[Target, ...]:
    if len(head) < 20:
        return ()
    (machine,) = struct.unpack_from("<H" if head[5] == 1 else ">H", head, 18)
    return (Target("Linux", _ELF_MACHINES.get(machine, f"a processor of number {machine}")),)


def _pe(head: bytes) -> tuple[Target, ...]:
    at = struct.unpack_from("<I", head, 0x3C)[0] if len(head) >= 0x40 else len(head)
    if head[at : at + 4] != b"PE\0\0" or len(head) < at + 6:
        return ()
    (machine,) = struct.unpack_from("<H", head, at + 4)
    return (Target("Windows", _PE_MACHINES.get(machine, f"a processor of number {machine}")),)


def _mach(head: bytes) -> tuple[Target, ...]:
    if len(head) < 8:
        return ()
    (magic,) = struct.unpack_from("<I", head)
    if magic in _MACH_MAGICS:
        return (_mach_target(struct.unpack_from("<I", head, 4)[0]),)
    magic, count = struct.unpack_from(">II", head)
    step = _FAT_ENTRY_BYTES.get(magic, 0)
    if not step or not 0 < count <= _MOST_FAT_ENTRIES or len(head) < 8 + count * step:
        return ()
    return tuple(_mach_target(struct.unpack_from(">I", head, 8 + number * step)[0]) for number in range(count))


def _mach_target(cpu: int) -> Target:
    return Target("macOS", _MACH_CPUS.get(cpu, f"a processor of number {cpu}"))
