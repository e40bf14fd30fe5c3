"""A file measured for a picture: the same measurements as without, the same curves as in one go, errors of the file."""

from __future__ import annotations

import pytest
import soundfile
from signals import programme

from sweeper.errors import AudioFileError
from sweeper.render.file_tasks import measure_file
from sweeper.render.orders import MeasureOrder
from sweeper.render.plotting import PlotOrder, plot_file, plotted
from sweeper.workers import Pool, Report
from sweeper.workers.messages import Beat


def test_the_measurements_are_those_of_measuring_alone(tmp_path):
    music = programme(3.5, 44100)
    soundfile.write(tmp_path / "mix.wav", music.T * 4, 44100, subtype="PCM_24")
    sent, ranges = [], {"end": ((44100, 88200),)}
    found = plot_file(PlotOrder(tmp_path / "mix.wav", ranges, 300), Report(sent.append))
    assert found.measured == measure_file(MeasureOrder(tmp_path / "mix.wav", ranges), Report(lambda message: None))
    assert found.curves.envelope.overs.sum() == found.measured.measurements["overs"]
    assert found.curves.envelope.lows.shape == (2, 300)
    assert max(each.share for each in sent if isinstance(each, Beat) and each.share is not None) == 1.0


def test_the_errors_of_a_worker_are_those_of_the_file(tmp_path):
    (tmp_path / "text.wav").write_text("no sound")
    with Pool(1) as pool, pytest.raises(AudioFileError, match=r"text\.wav"):
        plotted([PlotOrder(tmp_path / "text.wav", {}, 100)], pool)
