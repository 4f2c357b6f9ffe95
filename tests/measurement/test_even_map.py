"""Emissivity maps: boards of two emissivities come back, pixels that cannot be known are left out, bad maps refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from uncertainties import ufloat, wrap

from irspot.camera import Optics
from irspot.conditions import Conditions
from irspot.errors import MapRefused
from irspot.even_frame import EvenConditions
from irspot.measurement import emissivity_map_of, measure_at, measure_zones, surface_map, with_draws
from irspot.measurement.map_sampling import map_part, places_in_map
from irspot.radiometry import surface_temperature
from irspot.radiometry.even import emissivity_of_even, seen_of_even
from irspot.results import Reading

from .even_scenes import (
    BAND,
    BOARD,
    COLUMNS,
    CONDITIONS,
    GREY,
    MASK,
    METAL,
    ROWS,
    TAKEN,
    Seen,
    camera_of,
    even,
    frame_of,
    loaded,
    loaded_degc,
)

VIEW, ASIDE = Seen(), Seen(17.4, 233.7)
"""The even frame's camera stood a little aside."""
TRUE_DEGC = {"metal": 90.0, "grey": 80.0, "mask": 70.0, "both": 90.0}


def mapped(taken: EvenConditions = TAKEN, view: Seen = ASIDE, **options: float):
    return emissivity_map_of(even(view, seed=7, **options), BOARD, view.placement(), taken)


def readings(found=None, board=BOARD, view: Seen = VIEW, conditions: Conditions = CONDITIONS) -> dict[str, Reading]:
    frame = loaded(view, seed=3)
    return {r.zone: r for r in measure_zones(frame, board, view.placement(board), conditions, found or mapped())}


def test_a_board_of_two_emissivities_comes_back() -> None:
    found = readings()
    for zone, emissivity in (("metal", METAL), ("grey", GREY), ("mask", MASK), ("both", METAL)):
        reading = found[zone]
        assert reading.verdict == "usable", (zone, reading.flags)
        assert "emissivity-mapped" in reading.flags
        assert abs(reading.max_degc - TRUE_DEGC[zone]) <= reading.U_max_k
        assert reading.emissivity == pytest.approx(emissivity, abs=0.01)
    # Well below what 2 % of emissivity on each would be worth on metal.
    assert found["metal"].U_max_k < 12.0
    assert found["mask"].U_max_k < 1.5
    plain = {r.zone: r for r in measure_zones(loaded(VIEW, seed=3), BOARD, VIEW.placement(), CONDITIONS)}
    assert plain["metal"].verdict == "retake"
    # Without a map the mask's emissivity is read into the metal.
    assert plain["both"].max_degc < 60.0


def test_pixels_beside_borders_are_left_out() -> None:
    found = readings()
    assert "emissivity-left-out" in found["both"].flags
    assert "emissivity-left-out" not in found["metal"].flags
    assert found["both"].pixels < 56 * 44 * 4
    shown = surface_map(loaded(VIEW, seed=3), BOARD, VIEW.placement(), CONDITIONS, mapped())
    x, y = VIEW.mm()
    true = loaded_degc(x, y).reshape(ROWS, 3, COLUMNS, 3).mean(axis=(1, 3))
    x, y = x[0, 1::3][None], y[1::3, 0][:, None]
    on = (x > 3) & (x < 147) & (y > 3) & (y < 107)
    error = np.abs(shown - true)[on & np.isfinite(shown)]
    # No border draws a line of heat: what is shown is right, and what is not right is not shown.
    assert np.quantile(error, 0.999) < 5.0
    assert 0.0 < np.mean(~np.isfinite(shown[on])) < 0.12


def test_pictures_show_what_tables_say() -> None:
    frame, placement, found = loaded(VIEW, seed=3), VIEW.placement(), mapped()
    shown = surface_map(frame, BOARD, placement, CONDITIONS, found)
    for reading in measure_zones(frame, BOARD, placement, CONDITIONS, found)[:3]:
        pixel = shown[round(reading.hot_y_px), round(reading.hot_x_px)]
        assert pixel == pytest.approx(reading.pixel_max_degc, abs=1.0)
        place = measure_at(frame, BOARD, placement, CONDITIONS, reading.hot_x_px, reading.hot_y_px, found)
        assert place.max_degc == pytest.approx(float(pixel), abs=0.01)
        assert place.emissivity == pytest.approx(reading.emissivity, rel=0.03)


def test_a_picture_says_that_emissivities_are_the_pixels_own() -> None:
    from irspot.workflow.draw_run import caption_of

    frame = loaded(VIEW, seed=3)
    said = [caption_of(BOARD, "", "front", CONDITIONS, frame, mapped=mapped).emissivity for mapped in (False, True)]
    assert said == ["per zone, default elsewhere", "per pixel, by a map"]


def test_the_budget_is_that_of_the_whole_calculation() -> None:
    """The library `uncertainties` propagates map and measurement in one go, the camera's two errors independent."""
    reading = readings()["grey"]
    seen = float(reading.conditions.reflected_degc or 0.0)
    e = reading.emissivity
    radiance = _seen_degc(reading)
    even_seen = seen_of_even(e, TAKEN, BAND)

    def whole(measured: float, reflected: float, shown: float, board: float, around: float) -> float:
        emissivity = float(emissivity_of_even(shown, EvenConditions(board, reflected_degc=around), BAND))
        return float(surface_temperature(measured, emissivity=emissivity, reflected_degc=reflected, band=BAND))

    limit = 0.3 / np.sqrt(3.0)
    wanted = wrap(whole)(
        ufloat(radiance, float(np.linalg.norm([limit, 0.02, 0.04]))),
        ufloat(seen, CONDITIONS.u_reflected_k),
        ufloat(even_seen, float(np.hypot(limit, 0.02))),
        ufloat(TAKEN.temperature_degc, TAKEN.u_k),
        ufloat(TAKEN.reflected_degc, TAKEN.u_reflected_k),
    )
    names = {"camera limit", "repeatability", "noise", "reflected temperature", "even board", "camera limit in the map"}
    stated = float(np.linalg.norm([term.u_k for term in reading.budget if term.name in names]))
    assert stated == pytest.approx(wanted.std_dev, rel=2e-3)


def _seen_degc(reading: Reading) -> float:
    from irspot.radiometry import apparent_temperature

    return float(
        apparent_temperature(
            reading.max_degc, emissivity=reading.emissivity, reflected_degc=reading.reflected_degc, band=BAND
        )
    )


@pytest.mark.parametrize("off_k", [-0.3, 0.3])
def test_one_error_in_both_frames_is_weighed_as_one(off_k: float) -> None:
    """What the camera's error does through both frames, computed outright, is what the budget's one term states."""
    same = replace(TAKEN, same_session=True)
    right, wrong = (
        measure_zones(loaded(VIEW, off_k=off, seed=3), BOARD, VIEW.placement(), CONDITIONS, mapped(same, off_k=off))
        for off in (0.0, off_k)
    )
    for before, after in list(zip(right, wrong, strict=True))[:3]:
        (term,) = (term for term in before.budget if term.name == "camera limit")
        bound_k = term.sensitivity * off_k
        assert after.max_degc - before.max_degc == pytest.approx(bound_k, rel=0.15, abs=0.05)
        apart = readings()[before.zone].budget
        both = np.linalg.norm([t.u_k for t in apart if t.name.startswith("camera limit")])
        assert term.u_k < both


def test_drawing_every_input_says_the_same() -> None:
    frame, placement = loaded(VIEW, seed=3), VIEW.placement()
    found = measure_zones(frame, BOARD, placement, CONDITIONS, mapped())
    for reading in with_draws(found, BOARD, "front", BAND, 20_000)[1:3]:
        assert reading.drawn_u_k == pytest.approx(reading.U_max_k / 2.0, rel=0.1)
        assert reading.drawn_mean_degc == pytest.approx(reading.max_degc, abs=0.3)


def test_metal_too_uncertain_is_bounded() -> None:
    """Everything is right; but a surrounding known to 5 K leaves open whether the metal has 0.1 or 0.3."""
    found = readings(mapped(replace(TAKEN, u_reflected_k=5.0)))
    metal = found["metal"]
    assert "emissivity-uncertain" in metal.flags
    assert (metal.verdict, metal.emissivity > METAL) in (("lower bound", True), ("retake", True))
    assert found["mask"].verdict == "usable"
    assert "emissivity-partly-unknown" in found["both"].flags
    assert found["both"].bound_degc < TRUE_DEGC["both"]


def test_an_emissivity_measured_on_the_zone_stays() -> None:
    own = replace(BOARD.zones[2], emissivity=0.88, u_emissivity=0.01, emissivity_from="tape")
    reading = readings(board=replace(BOARD, zones=(own,)))["mask"]
    assert reading.emissivity == 0.88
    assert "emissivity-mapped" not in reading.flags


def test_what_the_map_does_not_show_keeps_what_the_file_states() -> None:
    found = mapped()
    blind = replace(found, emissivity=np.where(np.arange(COLUMNS) > 180, np.float32(np.nan), found.emissivity))
    reading = readings(blind)["mask"]
    assert reading.emissivity == 0.93
    assert {"emissivity-not-mapped"} <= set(reading.flags)
    assert "emissivity-mapped" not in reading.flags


def test_a_board_file_that_says_otherwise_is_named() -> None:
    wrong = replace(BOARD, zones=(replace(BOARD.zones[2], emissivity=0.70, u_emissivity=0.01),))
    assert "emissivity-contradicted" in readings(board=wrong)["mask"].flags
    assert "emissivity-contradicted" not in readings()["mask"].flags


def test_places_in_the_map_are_those_of_the_placements() -> None:
    """Against carrying every pixel one by one, through two lenses that bend and two tilted views."""
    optics = Optics(focal_px=400.0, distortion=(-0.12, 0.03, 0.001, -0.001, 0.0), blur_px=0.7)
    from irspot.placing import CornersPx
    from irspot.registration import place

    views = [
        place(BOARD, (COLUMNS, ROWS), optics, CornersPx(corners), top="up")
        for corners in (
            ((18.0, 238.0), (316.0, 231.0), (307.0, 22.0), (29.0, 12.0)),
            ((25.0, 233.0), (312.0, 236.0), (309.0, 15.0), (22.0, 20.0)),
        )
    ]
    part = slice(3, 250), slice(5, 326)
    x, y = places_in_map(*views, part)
    rows, columns = np.mgrid[part]
    wanted = views[1].to_px(views[0].to_mm(np.column_stack([columns.ravel(), rows.ravel()]).astype(float)))
    assert np.abs(x.ravel() - wanted[:, 0]).max() < 0.01
    assert np.abs(y.ravel() - wanted[:, 1]).max() < 0.01


def test_a_raised_zone_is_read_where_it_appears() -> None:
    optics = Optics(focal_px=600.0, blur_px=0.7)
    view, aside = Seen(camera=camera_of(optics=optics)), Seen(60.0, 210.0, camera_of(optics=optics))
    tall = replace(BOARD, zones=(replace(BOARD.zones[0], height_mm=15.0),))
    found = emissivity_map_of(even(aside, seed=7), tall, aside.placement(tall), TAKEN)
    flat, raised = (
        map_part(
            found, tall, replace(tall.zones[0], height_mm=h), view.placement(tall), (slice(60, 100), slice(60, 120))
        )
        for h in (0.0, 15.0)
    )
    assert not np.allclose(flat.emissivity, raised.emissivity, equal_nan=True)


def refused(message: str, taken: EvenConditions = TAKEN, **changes: object) -> MapRefused:
    with pytest.raises(MapRefused, match=message) as caught:
        emissivity_map_of(changes.get("frame") or even(ASIDE, seed=7), BOARD, ASIDE.placement(), taken)  # type: ignore[arg-type]
    return caught.value


def test_bad_maps_are_refused() -> None:
    cold = refused("too near", replace(TAKEN, temperature_degc=42.0))
    assert (cold.key, cold.wanted) == ("temperature_degc", "at least 20 K above")
    refused("black body", replace(TAKEN, temperature_degc=45.0, reflected_degc=23.0))
    ranged = replace(ASIDE.camera, accuracy=replace(ASIDE.camera.accuracy, range_degc=(-20.0, 48.0)))
    refused("range", frame=even(replace(ASIDE, camera=ranged), seed=7))
    x, _ = ASIDE.mm()
    sloping = frame_of(ASIDE, 47.0 + 6.0 * x / 150.0, TAKEN.reflected_degc)
    refused("evenly warm", replace(TAKEN, temperature_degc=53.0, u_k=0.5), frame=sloping)
    nothing = replace(even(ASIDE), stored=np.full((ROWS, COLUMNS), np.nan, np.float32))
    refused("nothing", frame=nothing)


def test_maps_of_other_views_are_refused() -> None:
    from irspot.placing import CornersPx
    from irspot.registration import place

    optics = Optics(focal_px=500.0, blur_px=0.7)
    found = mapped()
    frame = loaded(VIEW, seed=3)
    half = replace(found, placement=replace(found.placement, matrix=found.placement.matrix * [[0.5], [0.5], [1.0]]))
    with pytest.raises(MapRefused, match="another size"):
        measure_zones(frame, BOARD, VIEW.placement(), CONDITIONS, half)
    with pytest.raises(MapRefused, match="not of the size"):
        measure_zones(
            frame, BOARD, VIEW.placement(), CONDITIONS,
            replace(found, placement=replace(found.placement, size_px=(COLUMNS, ROWS - 1))),
        )  # fmt: skip
    leaning = ((40.0, 236.0), (290.0, 236.0), (262.0, 60.0), (68.0, 60.0))
    for lens in (optics, Optics(blur_px=0.7)):
        tilted = place(BOARD, (COLUMNS, ROWS), lens, CornersPx(leaning), top="up")
        straight = replace(VIEW.placement(), optics=lens)
        with pytest.raises(MapRefused, match="direction"):
            measure_zones(frame, BOARD, straight, CONDITIONS, replace(found, placement=tilted))
