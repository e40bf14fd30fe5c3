"""The hot loops of the meters as machine code, where numba is there to make it.

`made` is asked when the first samples come, never while the package is imported: only then is numba loaded, and a loop
compiled (3 s for all of them) or read from the user's cache folder (0.4 s). The answer is the same in every process of
a machine, because it goes by what is installed, and by NUMBA_DISABLE_JIT, which children inherit; a cache folder that
is closed or damaged costs time only. So a table never depends on which worker measured what, to the bit. Where there is
no compiler, or it fails, the meters stay with numpy, which agrees within 1e-9 dB in loudness, and to the bit in true
peak. A compiler that is there and fails, or its cache, is warned of once a process.
"""

from __future__ import annotations

import functools
import importlib
import inspect
import warnings
from collections.abc import Callable
from types import ModuleType
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import platformdirs

if TYPE_CHECKING:
    from sweeper.meter.grid import Doubles, Samples

Loop = Callable[..., None]
Frames = npt.NDArray[np.int64]
#: What loops read stands in this file: it is part of the machine code, which is kept until this file changes.
STRETCH = 64  # frames that `outline` looks at together
MAGNITUDE = 0x7FFFFFFF  # all bits of a single but its sign; as whole numbers, magnitudes keep their order


@functools.cache
def made(loop: Loop, dtype: np.dtype[Any]) -> Loop | None:
    """`loop`, one of this module's, compiled for samples of `dtype`; None where there is no compiler that works.

    Warns of one that fails, and of a cache that does. Rows of samples must be contiguous and aligned: see `row`.
    """
    try:
        numba = importlib.import_module("numba")
        if numba.config.DISABLE_JIT:
            return None
    except (ImportError, OSError):  # it is not there, not for this numpy, or has no code for this machine: not missed
        return None
    try:
        return _compiled(numba, loop, dtype, cached=True)
    except Exception as error:  # noqa: BLE001 - where it is the cache that fails, the same loop is compiled without it
        why = error
    try:
        found = _compiled(numba, loop, dtype, cached=False)
    except Exception as error:  # noqa: BLE001 - whatever is wrong with it, there is another way to the same number
        _warn("numba fails, and numpy measures, which is slower", f"{type(error).__name__}: {error}")
        return None
    _warn("numba's kept code cannot be used, and loops are compiled in every process", f"{type(why).__name__}: {why}")
    return found


@functools.cache
def _warn(what: str, reason: str) -> None:
    """Say once a process why the meters are slower than they could be."""
    warnings.warn(f"{what}: {reason}", RuntimeWarning, stacklevel=3)


def row(samples: Samples) -> Samples:
    """(frames,) as the compiled loops read it; a copy only where it lies otherwise in memory."""
    flags = samples.flags
    return samples if flags.c_contiguous and flags.aligned else np.require(samples, requirements=["C", "A"])


def weigh(filter: Doubles, samples: Samples, channel: int, tiny: float, memory: Doubles, edges: Frames,
          energies: Doubles) -> None:  # fmt: skip
    """K-weight `samples`, (frames,), and put the energies between `edges` into energies[channel].

    filter: second-order sections, (2, 6). memory: (2, channels, 2) as scipy.signal.sosfilt has it, changed in place;
    what a section keeps after a sub-block counts as nothing under `tiny`, or it would crawl on denormals.
    The sections are worked out as z0, z1 <- z1 + (b1 - a1 b0) x - a1 z0, (b2 - a2 b0) x - a2 z0, which waits for
    nothing but its own memory.
    """
    b0, a1, a2 = filter[0, 0], filter[0, 4], filter[0, 5]
    d0, c1, c2 = filter[1, 0], filter[1, 4], filter[1, 5]
    b1, b2, d1, d2 = filter[0, 1] - a1 * b0, filter[0, 2] - a2 * b0, filter[1, 1] - c1 * d0, filter[1, 2] - c2 * d0
    p0, p1, r0, r1 = memory[0, channel, 0], memory[0, channel, 1], memory[1, channel, 0], memory[1, channel, 1]
    for block in range(edges.size - 1):
        energy = 0.0
        for frame in range(edges[block], edges[block + 1]):
            x = np.float64(samples[frame])
            y = b0 * x + p0
            p0, p1 = b1 * x + p1 - a1 * p0, b2 * x - a2 * p0
            heard = d0 * y + r0
            r0, r1 = d1 * y + r1 - c1 * r0, d2 * y - c2 * r0
            energy += heard * heard
        energies[channel, block] = energy
        if max(abs(p0), abs(p1)) < tiny:
            p0, p1 = 0.0, 0.0
        if max(abs(r0), abs(r1)) < tiny:
            r0, r1 = 0.0, 0.0
    memory[0, channel, 0], memory[0, channel, 1], memory[1, channel, 0], memory[1, channel, 1] = p0, p1, r0, r1


def weigh_two(filter: Doubles, left: Samples, right: Samples, tiny: float, memory: Doubles, edges: Frames,
              energies: Doubles) -> None:  # fmt: skip
    """`weigh` for two channels at once, which keeps the processor busy; energies[2] gets left times right."""
    b0, a1, a2 = filter[0, 0], filter[0, 4], filter[0, 5]
    d0, c1, c2 = filter[1, 0], filter[1, 4], filter[1, 5]
    b1, b2, d1, d2 = filter[0, 1] - a1 * b0, filter[0, 2] - a2 * b0, filter[1, 1] - c1 * d0, filter[1, 2] - c2 * d0
    p0, p1, r0, r1 = memory[0, 0, 0], memory[0, 0, 1], memory[1, 0, 0], memory[1, 0, 1]
    q0, q1, s0, s1 = memory[0, 1, 0], memory[0, 1, 1], memory[1, 1, 0], memory[1, 1, 1]
    for block in range(edges.size - 1):
        lefts, rights, across = 0.0, 0.0, 0.0
        for frame in range(edges[block], edges[block + 1]):
            x, u = np.float64(left[frame]), np.float64(right[frame])
            y, v = b0 * x + p0, b0 * u + q0
            p0, p1 = b1 * x + p1 - a1 * p0, b2 * x - a2 * p0
            q0, q1 = b1 * u + q1 - a1 * q0, b2 * u - a2 * q0
            one, other = d0 * y + r0, d0 * v + s0
            r0, r1 = d1 * y + r1 - c1 * r0, d2 * y - c2 * r0
            s0, s1 = d1 * v + s1 - c1 * s0, d2 * v - c2 * s0
            lefts += one * one
            rights += other * other
            across += one * other
        energies[0, block], energies[1, block], energies[2, block] = lefts, rights, across
        if max(abs(p0), abs(p1), abs(q0), abs(q1)) < tiny:
            p0, p1, q0, q1 = 0.0, 0.0, 0.0, 0.0
        if max(abs(r0), abs(r1), abs(s0), abs(s1)) < tiny:
            r0, r1, s0, s1 = 0.0, 0.0, 0.0, 0.0
    memory[0, 0, 0], memory[0, 0, 1], memory[1, 0, 0], memory[1, 0, 1] = p0, p1, r0, r1
    memory[0, 1, 0], memory[0, 1, 1], memory[1, 1, 0], memory[1, 1, 1] = q0, q1, s0, s1


def outline(samples: Samples, highest: npt.NDArray[np.int32], bent: npt.NDArray[np.int32]) -> None:
    """The highest magnitude and the largest second difference of each stretch of singles, as bits of singles.

    samples: (frames,), whole stretches. A bend belongs to the stretch of its first frame; the last stretch has 62.
    Whole numbers, because only with them does the compiler take many at a time without being told to be careless.
    """
    for stretch in range(highest.size):
        frames = samples[stretch * STRETCH : (stretch + 1) * STRETCH]
        high = np.int32(0)
        for at in range(STRETCH):
            high = max(high, np.float32(frames[at]).view(np.int32) & MAGNITUDE)
        highest[stretch] = high
    for stretch in range(highest.size):
        frames = samples[stretch * STRETCH : (stretch + 1) * STRETCH + 2]
        bend = np.int32(0)
        for at in range(min(STRETCH, frames.size - 2)):
            rise = (frames[at + 2] - frames[at + 1]) - (frames[at + 1] - frames[at])
            bend = max(bend, np.float32(rise).view(np.int32) & MAGNITUDE)
        bent[stretch] = bend


def squares(samples: Samples, edges: Frames, sums: Doubles) -> None:
    """Sums of samples squared between `edges`, (frames,) -> (edges - 1,)."""
    for cell in range(sums.size):
        part, total = samples[edges[cell] : edges[cell + 1]], 0.0
        for at in range(part.size):
            value = np.float64(part[at])
            total += value * value
        sums[cell] = total


def stereo_squares(left: Samples, right: Samples, edges: Frames, energies: Doubles) -> None:
    """Sums of left, right, left + right and left - right squared between `edges`, (4, edges - 1)."""
    for cell in range(energies.shape[1]):
        lefts, rights = left[edges[cell] : edges[cell + 1]], right[edges[cell] : edges[cell + 1]]
        one, other, mids, sides = 0.0, 0.0, 0.0, 0.0
        for at in range(lefts.size):
            x, u = np.float64(lefts[at]), np.float64(rights[at])
            one += x * x
            other += u * u
            mids += (x + u) * (x + u)
            sides += (x - u) * (x - u)
        energies[0, cell], energies[1, cell] = one, other
        energies[2, cell], energies[3, cell] = mids, sides


#: How each loop may be rounded: products and sums in one step; sums in any order, several at a time.
_ROUNDING = {weigh: {"contract"}, weigh_two: {"contract"}, outline: set[str](),
             squares: {"contract", "reassoc"}, stereo_squares: {"contract", "reassoc"}}  # fmt: skip


def _compiled(numba: ModuleType, loop: Loop, dtype: np.dtype[Any], cached: bool) -> Loop:
    """Compile now, so that what cannot be compiled shows here."""
    folder = numba.config.CACHE_DIR
    if not folder:  # else numba would write beside this file
        numba.config.CACHE_DIR = str(platformdirs.user_cache_path("sweeper", appauthor=False) / "compiled")
    try:
        dispatcher = numba.njit(cache=cached, fastmath=_ROUNDING[loop], error_model="numpy")(loop)
    finally:
        numba.config.CACHE_DIR = folder
    dispatcher.compile(_signature(numba, loop, dtype))
    compiled: Loop = dispatcher
    return compiled


def _signature(numba: ModuleType, loop: Loop, dtype: np.dtype[Any]) -> tuple[Any, ...]:
    """What type each argument has, told by its name."""
    array, doubles = numba.types.Array, numba.float64
    samples = array(numba.from_dtype(dtype), 1, "C", readonly=True)
    kinds = {
        "samples": samples, "left": samples, "right": samples, "channel": numba.int64, "tiny": doubles,
        "filter": array(doubles, 2, "C"), "memory": array(doubles, 3, "C"), "energies": array(doubles, 2, "C"),
        "sums": array(doubles, 1, "C"), "edges": array(numba.int64, 1, "C", readonly=True),
        "highest": array(numba.int32, 1, "C"), "bent": array(numba.int32, 1, "C"),
    }  # fmt: skip
    return tuple(kinds[name] for name in inspect.signature(loop).parameters)
