from __future__ import annotations

import math

import pytest

from irspot.camera import Accuracy, Band, Colorbar, RawLayout, Settings
from irspot.files import camera_problems, read_camera
from tests.files import samples

POINTS = [[9000, 10.0], [12000, 60.0], [16500, 120.5]]


def read(tmp_path, document):
    return read_camera(samples.save(tmp_path / "c.toml", document))


def test_every_key_arrives(tmp_path):
    camera = read(tmp_path, samples.CAMERA)
    assert camera.name == "bench camera (invented)"
    assert (camera.signal.unit, camera.signal.scale, camera.signal.offset) == ("K", 0.01, -0.5)
    assert camera.signal.settings == Settings(0.95, 21.0, 0.9, 22.0)
    assert camera.raw == RawLayout(640, 512, "uint16", "big", 8)
    assert (camera.optics.size_px, camera.optics.focal_px, camera.optics.blur_px) == ((640, 512), 812.0, 0.8)
    assert camera.optics.principal_px == (319.5, 255.5)
    assert camera.optics.distortion == (0.1, 0.0, 0.0, 0.0, 0.0)
    assert camera.band == Band(7.5, 13.5)
    assert camera.accuracy == Accuracy(2.0, 0.02, 0.1, 0.05, (-20.0, 150.0), 20.0, assumed=False)
    assert camera.dead_px == ((12, 40), (639, 511))
    assert camera.declared


def test_a_range_inherits_what_it_does_not_state(tmp_path):
    ranges = dict(read(tmp_path, samples.CAMERA).ranges)
    # A range that states a limit states all of it: the relative one of [accuracy] is not mixed in.
    assert ranges["high"] == Accuracy(4.0, 0.0, 0.1, 0.05, (100.0, 400.0), 20.0, assumed=False)
    assert ranges["low"] == Accuracy(2.0, 0.02, 0.1, 0.2, (-20.0, 150.0), 20.0, assumed=False)


def test_without_limits_ours_are_assumed(tmp_path):
    document = samples.camera(accuracy={"noise_k": 0.07}, range=[])
    assert read(tmp_path, document).accuracy == Accuracy(noise_k=0.07, assumed=True)
    assert read(tmp_path, {"schema": 1, "signal": {"unit": "degC"}}).accuracy == Accuracy(assumed=True)


def test_one_limit_does_not_promise_the_other(tmp_path):
    accuracy = read(tmp_path, samples.camera(accuracy={"limit_relative": 0.01}, range=[])).accuracy
    assert (accuracy.limit_k, accuracy.limit_relative, accuracy.assumed) == (0.0, 0.01, False)


def test_without_signal_nothing_is_declared(tmp_path):
    assert not read(tmp_path, samples.camera(signal=None)).declared


def test_the_name_falls_back_to_the_file(tmp_path):
    assert read(tmp_path, samples.camera(name=None)).name == "c"


def test_field_of_view_becomes_a_focal_length(tmp_path):
    optics = read(tmp_path, samples.camera("optics", focal_px=None, hfov_deg=43.0)).optics
    # An independent expression: the edge of the image, half its width from the axis, is seen at half the angle.
    assert math.degrees(2.0 * math.atan2(320.0, optics.focal_px)) == pytest.approx(43.0, abs=1e-9)


def test_counts_by_points_or_radiance(tmp_path):
    signal = read(tmp_path, samples.camera(signal={"unit": "counts", "points": POINTS})).signal
    assert signal.points_degc == ((9000.0, 10.0), (12000.0, 60.0), (16500.0, 120.5))
    signal = read(tmp_path, samples.camera(signal={"unit": "counts", "radiance": True, "scale": 0.002})).signal
    assert (signal.radiance, signal.scale) == (True, 0.002)
    falling = [[count, -degc] for count, degc in POINTS]
    assert (
        read(tmp_path, samples.camera(signal={"unit": "counts", "points": falling})).signal.points_degc[2][1] == -120.5
    )


def test_sakuma_hattori(tmp_path):
    assert read(tmp_path, samples.camera(band={"sakuma_hattori": [9.5, -3, 2e8]})).band.sakuma_hattori == (
        9.5,
        -3.0,
        2e8,
    )


@pytest.mark.parametrize(
    ("table", "changes", "key", "says"),
    [
        ("signal", {"unit": "C"}, "signal.unit", "not one of"),
        ("signal", {"unit": None}, "signal.unit", "missing"),
        ("signal", {"scale": 0}, "signal.scale", "must not be 0"),
        ("signal", {"emissivity_set": 0}, "signal.emissivity_set", "too small"),
        ("signal", {"points": POINTS}, "signal.points", "only for counts"),
        ("signal", {"radiance": True}, "signal.radiance", "only for counts"),
        ("signal", {"unit": "counts"}, "signal", "no temperature"),
        ("signal", {"unit": "counts", "points": POINTS}, "signal.points", "contradict"),
        ("", {"signal": {"unit": "counts", "points": POINTS[:1]}}, "signal.points", "too few"),
        ("", {"signal": {"unit": "counts", "points": [[5, 1], [5, 2]]}}, "signal.points[1]", "must rise"),
        ("", {"signal": {"unit": "counts", "points": [[5, 1], [6, 2], [7, 2]]}}, "signal.points", "temperatures"),
        ("", {"signal": {"unit": "counts", "points": [[5, -280], [6, 2]]}}, "signal.points[0]", "absolute zero"),
        ("raw", {"dtype": "uint12"}, "raw.dtype", "not one of"),
        ("raw", {"width": 0}, "raw.width", "too small"),
        ("raw", {"height": None}, "raw.height", "missing"),
        ("raw", {"height": 512.0}, "raw.height", "whole number"),
        ("optics", {"hfov_deg": 43}, "optics.hfov_deg", "contradicts"),
        ("", {"optics": {"hfov_deg": 43}}, "optics.hfov_deg", "size"),
        ("optics", {"focal_px": None}, "optics.distortion", "focal"),
        ("optics", {"distortion": [0.1, 0.2]}, "optics.distortion", "too few"),
        ("optics", {"size_px": [640, 0]}, "optics.size_px[1]", "too small"),
        ("band", {"lower_um": 14.0}, "band.lower_um", "below upper_um"),
        ("band", {"lower_um": None}, "band", "lower_um"),
        ("band", {"sakuma_hattori": [1, 2, 3]}, "band.sakuma_hattori", "contradicts"),
        ("", {"band": {"sakuma_hattori": [0, 2, 3]}}, "band.sakuma_hattori", "above 0"),
        ("accuracy", {"limit_k": -1}, "accuracy.limit_k", "too small"),
        ("accuracy", {"range_degc": [150, -20]}, "accuracy.range_degc", "low end"),
        ("", {"range": [{"id": "a"}, {"id": "A"}]}, "range[1].id", "taken"),
        ("pixels", {"dead_px": [[640, 3]]}, "pixels.dead_px[0]", "outside the image"),
        ("pixels", {"dead_px": [[1, -3]]}, "pixels.dead_px[0][1]", "too small"),
        ("", {"colorbar": {"bar_px": [9, 2, 3, 4]}}, "colorbar.bar_px", "is no box"),
        ("", {"colorbar": {"bar_px": [1, 2, 9, 200], "low_end": "left"}}, "colorbar.low_end", "contradicts"),
        ("", {"colorbar": {"low_end": "below"}}, "colorbar.low_end", "words accepted"),
        ("", {"colorbar": {"ticks": [[0.0, 20.0]]}}, "colorbar.ticks", "one tick"),
        ("", {"colorbar": {"ticks": [[0.0, 20.0], [1.5, 40.0]]}}, "colorbar.ticks[1]", "from 0"),
        ("", {"colorbar": {"ticks": [[0.0, 40.0], [1.0, 20.0]]}}, "colorbar.ticks[1]", "must rise"),
        ("", {"colorbar": {"ignore_px": [[1, 2, 1, 4]]}}, "colorbar.ignore_px[0]", "is no box"),
        ("", {"sigma": 3}, "sigma", "unknown"),
    ],
)
def test_wrong_cameras_are_refused(tmp_path, table, changes, key, says):
    problems = camera_problems(samples.save(tmp_path / "c.toml", samples.camera(table, **changes)))
    assert [(p.severity, p.key) for p in problems] == [("error", key)], [str(p) for p in problems]
    assert says in problems[0].message


def test_a_colour_bar_is_taken_as_it_stands(tmp_path):
    table = {"bar_px": [600, 40, 620, 440], "low_end": "bottom", "ticks": [[0, 20], [0.5, 50], [1, 90]]}
    table["ignore_px"] = [[0, 0, 90, 30]]
    camera = read_camera(samples.save(tmp_path / "c.toml", samples.camera("", colorbar=table)))
    assert camera.colorbar == Colorbar(
        (600, 40, 620, 440), "bottom", ((0.0, 20.0), (0.5, 50.0), (1.0, 90.0)), ((0, 0, 90, 30),)
    )
