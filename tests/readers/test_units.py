from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.camera import Accuracy, Camera, Signal
from irspot.errors import UnitImplausible
from irspot.frame import Frame
from irspot.readers.finish import Source, finish
from irspot.readers.units import likely_declaration, spread_of

RANGE = (-20.0, 150.0)


def _scene(room_degc=22.0, board_degc=80.0, share=0.3):
    """A room with a board that gets hotter to the right, over the given share of the columns."""
    scene = np.full((37, 53), room_degc)
    columns = round(53 * share)
    scene[:, 53 - columns :] = np.linspace(room_degc, board_degc, columns)
    return scene + 0.1 * np.sin(np.arange(37))[:, None]


def _camera(unit="degC", scale=1.0, offset=0.0, range_degc=None, **signal):
    return Camera(
        name="test camera",
        signal=Signal(unit=unit, scale=scale, offset=offset, **signal),
        accuracy=Accuracy(range_degc=range_degc),
    )


def _finish(stored, camera, tmp_path) -> Frame:
    return finish(stored, Source(tmp_path / "frame.raw", camera))


WRITTEN = {
    ("degC", 1.0): lambda t: t,
    ("degC", 0.01): lambda t: np.round(t * 100).astype("i2"),
    ("K", 1.0): lambda t: t + 273.15,
    ("K", 0.1): lambda t: np.round((t + 273.15) * 10).astype("u2"),
    ("K", 0.01): lambda t: np.round((t + 273.15) * 100).astype("u2"),
    ("K", 0.04): lambda t: np.round((t + 273.15) * 25).astype("u2"),
    ("degF", 1.0): lambda t: t * 1.8 + 32,
}


@pytest.mark.parametrize("range_degc", [None, RANGE])
@pytest.mark.parametrize("written", WRITTEN)
def test_right_declarations_pass(tmp_path, written, range_degc):
    stored = WRITTEN[written](_scene())
    assert _finish(stored, _camera(*written, range_degc=range_degc), tmp_path).shape == (37, 53)


@pytest.mark.parametrize(
    ("written", "declared", "proposed"),
    [
        (("K", 1.0), ("degC", 1.0), 'unit = "K"'),
        (("K", 1.0), ("degF", 1.0), 'unit = "K"'),
        (("degC", 1.0), ("K", 1.0), 'unit = "degC"'),
        (("degC", 1.0), ("K", 0.01), 'unit = "degC", scale = 1'),
        (("degF", 1.0), ("K", 1.0), 'unit = "degF"'),
        (("K", 0.01), ("K", 1.0), 'unit = "K", scale = 0.01'),
        (("K", 0.01), ("degC", 0.01), 'unit = "K", scale = 0.01'),
        (("K", 0.01), ("degC", 1.0), 'unit = "K", scale = 0.01'),
        (("K", 0.1), ("K", 0.01), 'unit = "K", scale = 0.1'),
        (("K", 0.01), ("K", 0.1), 'unit = "K", scale = 0.01'),
        (("K", 0.04), ("K", 0.01), 'unit = "K", scale = 0.04'),
        (("degC", 0.01), ("degC", 1.0), 'unit = "degC", scale = 0.01'),
        (("degC", 0.01), ("K", 0.01), 'unit = "degC", scale = 0.01'),
    ],
)
def test_wrong_declarations_are_refused_with_the_likely_one(tmp_path, written, declared, proposed):
    with pytest.raises(UnitImplausible) as caught:
        _finish(WRITTEN[written](_scene()), _camera(*declared), tmp_path)
    assert proposed in caught.value.hint
    assert "°C" in caught.value.found


@pytest.mark.parametrize(
    ("room", "board", "share", "range_degc"),
    [
        (22, 250, 0.9, (-20, 350)),  # a hot board that fills the frame
        (250, 250, 1.0, (0, 350)),  # nothing else in view
        (250, 250, 1.0, None),
        (22, 180, 0.9, RANGE),  # somewhat above the range: clipped, not misread
        (-20, -20, 1.0, RANGE),
        (-40, -10, 0.5, None),
        (-60, 5, 0.3, None),  # clear sky behind
        (22, 22, 1.0, (100, 650)),  # a cold scene in a hot range
        (290, 330, 0.9, (200, 650)),  # what looks like kelvin, where the range begins hot
        (22, 1200, 0.2, (0, 2500)),
    ],
)
def test_unusual_but_possible_frames_pass(tmp_path, room, board, share, range_degc):
    assert _finish(_scene(room, board, share), _camera(range_degc=range_degc), tmp_path).shape == (37, 53)


def test_a_frame_far_above_the_declared_range_is_refused(tmp_path):
    with pytest.raises(UnitImplausible, match="far hotter than the camera's declared range, -20 to 150 °C"):
        _finish(_scene(225, 260, 0.9), _camera(range_degc=RANGE), tmp_path)


def test_dead_and_hot_pixels_do_not_make_a_frame_implausible(tmp_path):
    stored = np.round((_scene() + 273.15) * 100).astype("u2")
    stored[3, [4, 40]] = 0
    stored[30, 17] = 65535
    assert _finish(stored, _camera("K", 0.01, range_degc=RANGE), tmp_path).stored[30, 17] == 65535


def test_a_narrow_calibration_may_be_left_by_far(tmp_path):
    stored = np.linspace(9000, 16000, 37 * 53).reshape(37, 53).astype("u2")
    _finish(stored, _camera("counts", points_degc=((10000.0, 30.0), (11000.0, 40.0))), tmp_path)


POINTS = ((8000.0, 10.0), (11000.0, 50.0), (16000.0, 100.0))


@pytest.mark.parametrize(("low", "high"), [(8500, 15000), (6000, 7900), (15000, 22000)])
def test_counts_in_and_near_the_calibration_pass(tmp_path, low, high):
    stored = np.linspace(low, high, 37 * 53).reshape(37, 53).astype("u2")
    _finish(stored, _camera("counts", points_degc=POINTS), tmp_path)


@pytest.mark.parametrize(("low", "high"), [(0, 200), (30000, 40000), (0, 65535)])
def test_counts_far_from_the_calibration_are_refused(tmp_path, low, high):
    stored = np.linspace(low, high, 37 * 53).reshape(37, 53).astype("u2")
    with pytest.raises(UnitImplausible, match="far outside the calibration points"):
        _finish(stored, _camera("counts", points_degc=POINTS), tmp_path)


@pytest.mark.parametrize(("scale", "fits"), [(0.005, True), (-0.005, False), (1e6, False)])
def test_radiance_must_be_positive_and_possible(tmp_path, scale, fits):
    stored = np.full((37, 53), 9000, "u2")
    camera = _camera("counts", scale, radiance=True)
    if fits:
        _finish(stored, camera, tmp_path)
    else:
        with pytest.raises(UnitImplausible, match="radiance that nothing has"):
            _finish(stored, camera, tmp_path)


def test_a_frame_that_describes_itself_is_held_to_its_word_only_where_absurd(tmp_path):
    source = Source(tmp_path / "frame.tiff", replace(_camera(), declared=True), self_described=True)
    finish(_scene(295, 340), source)
    with pytest.raises(UnitImplausible, match="the file says its numbers are °C"):
        finish(_scene(29500, 34000), source)


def test_the_spread_passes_over_what_was_not_measured():
    scene = _scene()
    scene[:, :40] = np.nan
    spread = spread_of(scene)
    assert spread is not None
    assert np.nanmin(scene) <= spread.cold < spread.middle < spread.hot <= np.nanmax(scene)
    lone = np.full((301, 299), np.nan, "f4")
    lone[123, 45] = 21.5
    assert spread_of(lone).middle == 21.5
    assert spread_of(np.full((9, 11), np.nan)) is None


def test_numbers_that_fit_nothing_get_no_proposal():
    assert likely_declaration(spread_of(np.full((3, 3), 1e9))) == ""
