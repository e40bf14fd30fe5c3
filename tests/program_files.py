"""The first bytes of program files for any system and processor, made by hand.

Sources of the layouts: ELF, System V ABI, "ELF Header"; PE, Microsoft's "PE Format"; Mach-O, Apple's mach-o/loader.h,
mach-o/fat.h and mach/machine.h (numbers from memory of them).
"""

from __future__ import annotations

import struct

_ELF = {"x86-64": 62, "ARM64": 183, "ARM": 40, "x86": 3}
_PE = {"x86-64": 0x8664, "ARM64": 0xAA64, "x86": 0x14C}
_MACH = {"x86-64": 0x01000007, "ARM64": 0x0100000C, "x86": 7}


def elf(processor: str) -> bytes:
    """A Linux shared object (e_type 3), little-endian."""
    identity = b"\x7fELF" + bytes([1 if processor in ("x86", "ARM") else 2, 1, 1]) + bytes(9)
    return identity + struct.pack("<HHI", 3, _ELF[processor], 1) + bytes(40)


def pe(processor: str) -> bytes:
    """A Windows DLL: the old header names the place of the new one at 0x3C."""
    old = b"MZ" + bytes(0x3A) + struct.pack("<I", 0x80) + bytes(0x40)
    return old + b"PE\0\0" + struct.pack("<HH", _PE[processor], 1)


def mach(*processors: str) -> bytes:
    """A macOS bundle program (filetype 8); with several processors a file for all of them."""
    if len(processors) > 1:
        parts = (struct.pack(">5I", _MACH[p], 3, 4096 * n, 64, 12) for n, p in enumerate(processors, 1))
        return struct.pack(">II", 0xCAFEBABE, len(processors)) + b"".join(parts)
    magic = 0xFEEDFACE if processors[0] == "x86" else 0xFEEDFACF
    return struct.pack("<4I", magic, _MACH[processors[0]], 3, 8) + bytes(16)
