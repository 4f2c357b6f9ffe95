"""What a page shows of a frame is what was measured in it: temperatures, zones, places."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import irspot
from irspot.conditions import Conditions
from irspot.measurement import geometry_of, surface_map
from irspot.rendering.report.shown import BESIDE_K, ShownFrame, shown_frame
from irspot.results import Reading
from irspot.uncertain import rounded
from tests.rendering.report.test_grid import unpacked
from tests.tiny import BOARD, CAMERA, write_tiny

CONDITIONS = Conditions(ambient_degc=21.5, reflected_degc=22.0)
CORNERS = [(15.0, 84.0), (115.0, 84.0), (115.0, 14.0), (15.0, 14.0)]
BENT = "[optics]\nfocal_px = 150.0\ndistortion = [-0.2, 0.05, 0.001, -0.002, 0.0]\n"
# A zone that lies over a part of another and stands 3 mm above the board, and one with a hole.
MORE = """\
[[zone]]
id = "lid"
role = "lid"
rect_mm = [25.0, 45.0, 30.0, 15.0]
height_mm = 3.0
emissivity = 0.8
[[zone]]
id = "ring"
role = "ring"
circle_mm = [80.0, 55.0, 10.0]
exclude = [{ circle_mm = [80.0, 55.0, 4.0] }]
"""


def shown(folder: Path, camera: str, board: str) -> tuple[ShownFrame, np.ndarray, tuple[Reading, ...], object, object]:
    write_tiny(folder)
    (folder / "camera.toml").write_text(camera, encoding="utf-8")
    (folder / "boards" / "w1.toml").write_text(board, encoding="utf-8")
    frame = irspot.read_frame(folder / "frames" / "front-1.tiff", irspot.read_camera(folder / "camera.toml"))
    model = irspot.read_board(folder / "boards" / "w1.toml")
    placement = irspot.place(frame, model, top="up", corners_px=CORNERS)
    readings = tuple(irspot.measure(frame, model, placement, ambient_degc=21.5, reflected_degc=22.0))
    surface = surface_map(frame, model, placement, CONDITIONS)
    return shown_frame(surface, model, placement, readings), surface, readings, model, placement


@pytest.mark.parametrize(("camera", "board"), [(CAMERA, BOARD), (CAMERA + BENT, BOARD + MORE)])
def test_every_pixel_shows_its_temperature_and_its_zone(tmp_path: Path, camera: str, board: str) -> None:
    page, surface, readings, model, placement = shown(tmp_path, camera, board)
    values, labels = unpacked(page.grid)
    x0, y0 = page.origin_px
    part = surface[y0 : y0 + page.grid.rows, x0 : x0 + page.grid.columns]
    degc = (values - 1 - 2732) / 10.0
    on_board = labels > 0
    assert np.abs(degc - part)[on_board].max() <= 0.0501
    assert np.abs(degc - part)[~on_board].max() <= BESIDE_K / 2.0 + 0.05
    geometry = geometry_of(model, placement)  # type: ignore[arg-type]
    for number, where in enumerate((geometry.elsewhere, *geometry.zones), start=1):
        inside = np.zeros(surface.shape, bool)
        inside[where.slices][where.mask] = True
        inside = inside[y0 : y0 + page.grid.rows, x0 : x0 + page.grid.columns]
        assert inside.sum() == where.mask.sum(), "no zone is cut off"
        assert not np.any((labels == number) & ~inside)
    assert [zone.zone for zone in page.zones] == ["elsewhere", *(r.zone for r in readings if r.zone != "elsewhere")]


@pytest.mark.parametrize(("camera", "board"), [(CAMERA, BOARD), (CAMERA + BENT, BOARD + MORE)])
def test_the_hottest_pixel_shows_what_its_row_says(tmp_path: Path, camera: str, board: str) -> None:
    page, _, readings, _, _ = shown(tmp_path, camera, board)
    values, _ = unpacked(page.grid)
    by_zone = {reading.zone: reading for reading in readings}
    told = 0
    for zone in page.zones:
        if zone.hot_px is None:
            continue
        column, row = zone.hot_px[0] - page.origin_px[0], zone.hot_px[1] - page.origin_px[1]
        value = (int(values[row, column]) - 1 - 2732) / 10.0
        reading = by_zone[zone.zone]
        assert f"{value:.1f}" == rounded(reading.pixel_max_degc, 1)
        assert abs(zone.hot_px[0] - reading.hot_x_px) <= 1.0
        told += 1
    assert told >= 3


def test_places_of_a_bent_lens_and_a_raised_zone_come_back(tmp_path: Path) -> None:
    page, _, readings, _, placement = shown(tmp_path, CAMERA + BENT, BOARD + MORE)
    assert page.lens is not None
    assert page.lens.focal_px == 150.0
    assert page.lens.middle_px == (65.0, 48.0)
    lid = next(zone for zone in page.zones if zone.zone == "lid")
    assert lid.to_mm is not None
    reading = next(reading for reading in readings if reading.zone == "lid")
    flat = placement.to_mm(np.array([[reading.hot_x_px, reading.hot_y_px]]))[0]  # type: ignore[attr-defined]
    from irspot.registration.distortion import undistort

    x, y = undistort(np.array([[reading.hot_x_px, reading.hot_y_px]]), placement.optics, placement.size_px)[0]  # type: ignore[attr-defined]
    m = np.array(lid.to_mm).reshape(3, 3) @ [x, y, 1.0]
    assert m[:2] / m[2] == pytest.approx([reading.hot_x_mm, reading.hot_y_mm], abs=1e-4)
    assert np.hypot(*(m[:2] / m[2] - flat)) > 0.3, "a height of 3 mm does show"


def test_borders_of_excluded_parts_are_drawn(tmp_path: Path) -> None:
    page, *_ = shown(tmp_path, CAMERA + BENT, BOARD + MORE)
    assert [len(zone.paths) for zone in page.zones] == [0, 1, 1, 1, 2]


def test_an_unplaced_frame_is_shown_whole(tmp_path: Path) -> None:
    write_tiny(tmp_path)
    frame = irspot.read_frame(tmp_path / "frames" / "front-1.tiff", irspot.read_camera(tmp_path / "camera.toml"))
    board = irspot.read_board(tmp_path / "boards" / "w1.toml")
    page = shown_frame(surface_map(frame, board, None, CONDITIONS), board, None, ())
    assert (page.grid.columns, page.grid.rows) == (frame.shape[1], frame.shape[0])
    assert (page.origin_px, page.outline, page.zones, page.to_mm) == ((0, 0), "", (), None)
