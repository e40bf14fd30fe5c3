"""The compiled loops against numpy: the same numbers, in every process, and numpy where there is no compiler."""

import ast
import inspect
import os
import subprocess
import sys

import numba
import numpy as np
import pytest
from scipy import signal
from signals import cut, noise, programme, silence

from sweeper.audio.format import AudioFormat
from sweeper.meter import advance, compiled, finish, loudness, measure, start
from sweeper.meter.k_weighting import k_filter
from sweeper.quantities import OF_FILES

SINGLE, DOUBLE = np.dtype(np.float32), np.dtype(np.float64)
KEYS = [quantity.key for quantity in OF_FILES]

#: What a second process prints: every measurement to the bit, and what it had loaded before and after.
OTHER_PROCESS = """
import sys
import numpy as np
from sweeper import meter
from sweeper.audio.format import AudioFormat
before = [name for name in ("numba", "scipy") if name in sys.modules]
music = np.random.default_rng(5).uniform(-0.5, 0.5, (2, 48000 * 4)).astype(np.float32)
values = meter.measure(music, AudioFormat(2, 48000)).values
print(before, sorted(values.items()))
"""


@pytest.fixture
def without_compiler(monkeypatch):
    """Call it, and from there on the meters have numpy alone."""
    return lambda: monkeypatch.setattr(compiled, "made", lambda loop, dtype: None)


def both_ways(samples, rate_hz, without_compiler):
    format = AudioFormat(len(samples), rate_hz)
    fast = measure(samples, format)
    without_compiler()
    return fast, measure(samples, format)


# The same numbers.


@pytest.mark.parametrize("dtype", [SINGLE, DOUBLE])
@pytest.mark.parametrize("channels", [1, 2, 5, 6])
@pytest.mark.parametrize("rate_hz", [8013, 22050, 44100])
def test_numpy_agrees_within_a_millionth_of_a_db(rate_hz, channels, dtype, without_compiler):
    music = programme(4.1, rate_hz, channels).astype(dtype)
    fast, plain = both_ways(music, rate_hz, without_compiler)
    assert fast.reasons == plain.reasons
    for key in KEYS:
        assert fast.values[key] == pytest.approx(plain.values[key], abs=1e-6), key


@pytest.mark.parametrize("rate_hz", [48000, 88200, 96000, 176400, 192000])
def test_numpy_agrees_at_high_rates(rate_hz, without_compiler):
    fast, plain = both_ways(programme(3.2, rate_hz).astype(np.float32), rate_hz, without_compiler)
    assert fast.values["short_term_max_lufs"] == pytest.approx(plain.values["short_term_max_lufs"], abs=1e-9)
    assert fast.values["true_peak_dbtp"] == plain.values["true_peak_dbtp"]


@pytest.mark.parametrize("shape", ["noise", "clipped", "silent in between", "quiet", "constant"])
def test_numpy_agrees_on_awkward_sounds(shape, without_compiler):
    sound = noise(4.0, 8000)
    sounds = {"noise": sound, "clipped": np.clip(9.0 * sound, -0.99, 0.99), "quiet": 1e-7 * sound,
              "silent in between": np.concatenate([sound, silence(4.0, 8000), sound], axis=1),
              "constant": np.ones_like(sound)}  # fmt: skip
    fast, plain = both_ways(sounds[shape].astype(np.float32), 8000, without_compiler)
    assert fast.reasons == plain.reasons
    assert fast.values["true_peak_dbtp"] == plain.values["true_peak_dbtp"]
    for key in KEYS:
        assert fast.values[key] == pytest.approx(plain.values[key], abs=1e-6), key


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("rate_hz", [8000, 44100, 192000])
def test_the_compiled_filter_is_that_of_scipy(rate_hz, channels):
    # scipy.signal.sosfilt; both the energies and the memory that the next stretch starts from
    sound = noise(0.5, rate_hz, channels)
    edges = np.arange(51, dtype=np.int64) * (rate_hz // 100)
    energies, memory = np.empty((3, 50)), np.full((2, channels, 2), 0.01)
    heard, after = signal.sosfilt(k_filter(rate_hz), sound, zi=memory)
    if channels == 2:
        compiled.made(compiled.weigh_two, DOUBLE)(k_filter(rate_hz), *sound, 0.0, memory, edges, energies)
        across = (heard[0] * heard[1]).reshape(50, -1).sum(axis=1)
        assert energies[2] == pytest.approx(across, rel=1e-9, abs=1e-9 * energies[0].max())
    else:
        compiled.made(compiled.weigh, DOUBLE)(k_filter(rate_hz), sound[0], 0, 0.0, memory, edges, energies)
    for channel in range(channels):
        assert energies[channel] == pytest.approx((heard[channel] ** 2).reshape(50, -1).sum(axis=1), rel=1e-11)
    assert memory == pytest.approx(after, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("channels", [1, 2])
def test_what_rings_out_is_dropped_section_by_section(channels):
    # The shelf forgets within 100 ms, the high-pass rings a second longer: neither may be left to crawl on denormals
    state = loudness.start(AudioFormat(channels, 44100))
    for block in (noise(1.0, 44100, channels), silence(0.2, 44100, channels)):
        state = loudness.advance(state, block)
    shelf, high_pass = state.memory
    assert not shelf.any()
    assert np.abs(high_pass).min() > 1e-30
    assert not loudness.advance(state, silence(3.0, 44100, channels)).memory.any()


def test_the_outline_holds_every_sample_and_every_bend():
    sound = noise(0.1, 48000, 1)[0, : 64 * 70].astype(np.float32)
    bits = np.empty((2, 70), np.int32)
    compiled.made(compiled.outline, SINGLE)(sound, *bits)
    highest, bent = bits.view(np.float32)
    rise = np.diff(sound)
    bends = np.append(np.abs(rise[1:] - rise[:-1]), np.zeros(2, np.float32))
    assert highest.tolist() == np.abs(sound).reshape(70, 64).max(axis=1).tolist()
    assert bent.tolist() == bends.reshape(70, 64).max(axis=1).tolist()


def rearranged(samples, how):
    """Equal samples that lie otherwise in memory."""
    if how == "frame by frame":
        return np.asfortranarray(samples)
    if how == "backwards":
        return np.ascontiguousarray(samples[:, ::-1])[:, ::-1]
    if how == "read only":
        samples.flags.writeable = False
        return samples
    raw = np.empty(samples.nbytes + 1, np.uint8)
    off = raw[1:].view(samples.dtype).reshape(samples.shape)  # not at a multiple of its size
    off[:] = samples
    return off


@pytest.mark.parametrize("how", ["frame by frame", "backwards", "read only", "off its place"])
def test_where_samples_lie_changes_nothing(how):
    music = programme(3.1, 8000).astype(np.float32)
    assert measure(rearranged(music.copy(), how), AudioFormat(2, 8000)) == measure(music, AudioFormat(2, 8000))


def test_loops_read_nothing_from_another_module():
    """numba keeps machine code until the loop's own file changes, with the values that globals had when it was made."""
    tree = ast.parse(inspect.getsource(compiled))
    imported = {name.asname or name.name for node in ast.walk(tree) if isinstance(node, ast.Import | ast.ImportFrom)
                for name in node.names}  # fmt: skip
    for loop in compiled._ROUNDING:
        assert set(inspect.getclosurevars(loop).globals) & imported <= {"np"}, loop.__name__


# In every process, and without a compiler.


def in_another_process(**environment):
    run = subprocess.run([sys.executable, "-c", OTHER_PROCESS], capture_output=True, text=True, check=True,
                         env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), **environment})  # fmt: skip
    return run.stdout.strip()


def in_this_process():
    music = np.random.default_rng(5).uniform(-0.5, 0.5, (2, 48000 * 4)).astype(np.float32)
    return f"[] {sorted(measure(music, AudioFormat(2, 48000)).values.items())}"


def test_another_process_measures_the_same_to_the_bit_and_loads_no_compiler_before():
    assert in_another_process() == in_this_process()


def test_children_of_a_process_without_a_compiler_have_none_either(without_compiler):
    without_compiler()
    assert in_another_process(NUMBA_DISABLE_JIT="1") == in_this_process()


@pytest.mark.parametrize("error", [ImportError("Numba needs NumPy 2.0 or less"), OSError("no shared object file")])
def test_a_missing_compiler_leaves_numpy_without_a_word(monkeypatch, error, recwarn):
    def missing(name):
        raise error

    monkeypatch.setattr(compiled.importlib, "import_module", missing)
    assert compiled.made.__wrapped__(compiled.squares, SINGLE) is None
    assert not recwarn.list


def test_a_fault_while_the_compiler_is_loaded_is_not_hidden(monkeypatch):
    monkeypatch.setattr(compiled.importlib, "import_module", lambda name: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        compiled.made.__wrapped__(compiled.squares, SINGLE)


def test_a_compiler_that_is_switched_off_leaves_numpy(monkeypatch):
    monkeypatch.setattr(numba.config, "DISABLE_JIT", 1)
    assert compiled.made.__wrapped__(compiled.squares, SINGLE) is None


def test_a_compiler_that_fails_leaves_numpy_and_is_warned_of_once(monkeypatch, recwarn):
    def fail(*_):
        raise numba.core.errors.NumbaError("no such luck")

    monkeypatch.setattr(compiled, "_signature", fail)
    compiled._warn.cache_clear()
    for loop in (compiled.squares, compiled.outline):
        assert compiled.made.__wrapped__(loop, SINGLE) is None
    assert ["NumbaError: no such luck" in str(one.message) for one in recwarn.list] == [True]


def energy_of_ones(loop):
    sums = np.zeros(2)
    loop(np.ones(8192, np.float32), np.array([0, 4096, 8192]), sums)
    return sums.tolist()


def test_what_is_compiled_is_kept_in_the_users_cache_folder(monkeypatch, tmp_path):
    monkeypatch.setattr(compiled.platformdirs, "user_cache_path", lambda *_, **__: tmp_path)
    assert energy_of_ones(compiled.made.__wrapped__(compiled.squares, SINGLE)) == [4096.0, 4096.0]
    kept = [path for path in (tmp_path / "compiled").rglob("*") if path.is_file()]
    assert kept
    for path in kept:  # a damaged cache is passed by
        path.write_bytes(b"nothing that could be loaded")
    compiled._warn.cache_clear()
    with pytest.warns(RuntimeWarning, match="kept code cannot be used"):
        again = compiled.made.__wrapped__(compiled.squares, SINGLE)
    assert energy_of_ones(again) == [4096.0, 4096.0]


def test_a_cache_folder_that_cannot_be_made_is_done_without(monkeypatch, tmp_path):
    (tmp_path / "file").write_text("no folder")
    monkeypatch.setattr(compiled.platformdirs, "user_cache_path", lambda *_, **__: tmp_path / "file")
    assert energy_of_ones(compiled.made.__wrapped__(compiled.squares, SINGLE)) == [4096.0, 4096.0]


def test_a_cut_stream_is_the_same_to_the_bit_without_a_compiler(without_compiler):
    without_compiler()
    music = programme(3.3, 8000).astype(np.float32)
    panel = start(AudioFormat(2, 8000))
    for block in cut(music, [1, 77, 5000]):
        panel = advance(panel, block)
    assert finish(panel) == measure(music, AudioFormat(2, 8000))
