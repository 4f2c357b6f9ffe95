"""Frames written read back without a camera file, to the last bit of what they say."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from irspot.camera import Camera, Settings, Signal
from irspot.exports.degc_tiff import degc_tiff
from irspot.frame import Frame, degc_frame
from irspot.radiometry import radiance_temperature
from irspot.readers import open_frames, read_frame

DEGC = (20.0 + np.arange(7 * 5).reshape(7, 5) * 0.37).astype(np.float32)


def written(tmp_path: Path, *frames: Frame, **ends: float) -> Path:
    path = tmp_path / "frame.tiff"
    path.write_bytes(degc_tiff(frames, **ends))
    return path


def test_numbers_holes_and_time_come_back(tmp_path: Path) -> None:
    degc = DEGC.copy()
    degc[2, 3] = np.nan
    frame = Frame(degc, Camera(name="c"), "x", time_utc=datetime(2026, 3, 1, 12, 0, 1, tzinfo=UTC))
    back = read_frame(written(tmp_path, frame))
    np.testing.assert_array_equal(back.stored, degc)
    assert back.stored.dtype == np.float32
    assert back.time_text == "2026-03-01T12:00:01Z"
    assert back.u_decode_k is None


def test_settings_the_camera_had_applied_are_undone_before_writing(tmp_path: Path) -> None:
    camera = Camera(name="c", signal=Signal(unit="degC", settings=Settings(emissivity=0.9, reflected_degc=22.0)))
    frame = Frame(DEGC + 40.0, camera, "x")
    back = read_frame(written(tmp_path, frame))
    np.testing.assert_array_equal(radiance_temperature(back), radiance_temperature(frame))
    assert np.all(back.stored < DEGC + 40.0)


def test_a_decoded_frame_keeps_its_uncertainty_and_its_ends(tmp_path: Path) -> None:
    u_k = np.full(DEGC.shape, 0.12, np.float32)
    frame = Frame(DEGC, Camera(name="c"), "x", u_decode_k=u_k)
    back = read_frame(written(tmp_path, frame, low_degc=20.0, high_degc=float(DEGC[6, 3])))
    assert back.u_decode_k is not None
    np.testing.assert_allclose(back.u_decode_k, 0.12, rtol=1e-6)
    assert back.clipped is not None
    assert np.argwhere(back.clipped).tolist() == [[6, 3], [6, 4]]
    assert back.clipped_low is not None
    assert np.argwhere(back.clipped_low).tolist() == [[0, 0]]


def test_several_frames_are_pages_and_bytes_repeat(tmp_path: Path) -> None:
    frames = [degc_frame(DEGC + step) for step in range(3)]
    source = open_frames(written(tmp_path, *frames))
    assert source.count == 3
    assert source.frame(2).stored[0, 0] == pytest.approx(22.0)
    assert degc_tiff(frames) == degc_tiff(frames)


def test_a_hostile_record_is_taken_for_none(tmp_path: Path) -> None:
    import json

    import tifffile

    for record in ({"u_decode_k": "x"}, {"u_decode_k": -1}, {"u_decode_k": True}, {"u_decode_k": 1e999}):
        path = tmp_path / "hostile.tiff"
        text = json.dumps({"irspot": {"unit": "degC", **record}})
        tifffile.imwrite(path, DEGC, photometric="minisblack", description=text, metadata=None)
        assert read_frame(path).u_decode_k is None
