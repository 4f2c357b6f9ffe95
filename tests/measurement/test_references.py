"""Patches of known temperature in view: what they correct, what they leave, and when they are not believed."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, sqrt

import numpy as np
import pytest

from irspot.board import Board, Reference, Zone
from irspot.camera import Accuracy, Optics
from irspot.camera_error import AT_ODDS, DOUBTFUL, USED, Held, Line, PatchSeen
from irspot.conditions import Conditions
from irspot.frame import Frame
from irspot.measurement import held, measure_at, measure_zones, surface_map
from irspot.measurement.budget import camera_terms
from irspot.measurement.on_the_line import line_through, on_the_line
from irspot.measurement.references import CLIPPED, FEW, LESS_CERTAIN, OUTSIDE, UNEVEN, judged
from irspot.radiometry import apparent_temperature
from irspot.results import Reading
from irspot.shapes import rectangle
from irspot.uncertain import Term, dominant

from .scenes import CAMERA, COLUMNS, CONDITIONS, ROWS, frame_of, straight_placement

ACCURACY = Accuracy(2.0, 0.02, repeatability_k=0.3, noise_k=0.02, assumed=False)
PLAIN = replace(CAMERA, accuracy=ACCURACY, optics=Optics(blur_px=0.5))
PLACEMENT = straight_placement(1.4, 9.25, 115.0)
"""px = (9.25 + 1.4 x, 115 - 1.4 y): the board's lower edge leaves 15 px of bench below it."""
HOT = Zone("hot", rectangle(20, 20, 30, 20), emissivity=0.95, u_emissivity=0.01, measures="case")
PATCH = Zone("patch", rectangle(70, 30, 25, 20), emissivity=0.95, u_emissivity=0.01)
ON_BOARD = Reference("plate", "patch", None, 45.0, None, 0.2, 0.95, 0.01)
BESIDE = Reference("block", None, (150.0, 123.0, 6.9), 45.0, None, 0.2, 0.95, 0.01)
WARM = Reference("warm", None, (20.0, 123.0, 6.9), 80.0, None, 0.2, 0.95, 0.01)


def board(*references: Reference) -> Board:
    return Board("Referee", rectangle(0, 0, 110, 78), (HOT, PATCH), references=references)


def seen_at(surface_degc: float, emissivity: float = 0.95) -> float:
    return float(apparent_temperature(surface_degc, emissivity=emissivity, reflected_degc=22.0, band=PLAIN.band))


def scene(
    hot_degc: float = 90.0, patch_degc: float = 45.0, offset_k: float = 0.0, gain: float = 0.0, seed: int = 1
) -> np.ndarray:
    """The board at 50 °C with a hot part and a patch, blocks of 45 and 80 °C beside it, by a camera that errs."""
    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    degc = np.full((ROWS, COLUMNS), 23.0)
    degc[5:116, 9:164] = seen_at(50.0, 0.9)
    degc[59:88, 38:80] = seen_at(hot_degc)
    degc[45:74, 108:143] = seen_at(patch_degc)
    degc[np.hypot(x - 150, y - 123) <= 7.2] = seen_at(45.0)
    degc[np.hypot(x - 20, y - 123) <= 7.2] = seen_at(80.0)
    degc += offset_k + gain * (degc - seen_at(45.0))
    return degc + np.random.default_rng(seed).normal(0.0, 0.02, degc.shape)


def held_frame(degc: np.ndarray, *references: Reference, accuracy: Accuracy = ACCURACY) -> Frame:
    frame = frame_of(degc, replace(PLAIN, accuracy=accuracy))
    return held(frame, board(*references), PLACEMENT, CONDITIONS)


def held_by(degc: np.ndarray, *references: Reference, accuracy: Accuracy = ACCURACY) -> Held:
    found = held_frame(degc, *references, accuracy=accuracy).held
    assert found is not None
    return found


def measured(degc: np.ndarray, *references: Reference, accuracy: Accuracy = ACCURACY) -> dict[str, Reading]:
    frame = frame_of(degc, replace(PLAIN, accuracy=accuracy))
    readings = measure_zones(frame, board(*references), PLACEMENT, CONDITIONS)
    return {reading.zone: reading for reading in readings}


def terms(reading: Reading) -> dict[str, Term]:
    return {term.name: term for term in reading.budget}


@pytest.mark.parametrize("reference", [ON_BOARD, BESIDE], ids=["a zone", "a disc"])
@pytest.mark.parametrize("offset_k", [-1.7, 0.0, 1.3])
def test_one_patch_corrects_the_offset_of_a_frame(reference: Reference, offset_k: float) -> None:
    found = held_by(scene(offset_k=offset_k), reference)
    assert found.line is not None
    assert found.line.offset_k == pytest.approx(-offset_k, abs=0.01)
    assert (found.line.gain, found.line.gain_bound) == (0.0, 0.02)
    hot = measured(scene(offset_k=offset_k), reference)["hot"]
    assert hot.max_degc == pytest.approx(90.0, abs=0.05)
    assert "reference-corrected" in hot.flags
    assert measured(scene(offset_k=offset_k))["hot"].max_degc == pytest.approx(90.0 + 1.06 * offset_k, abs=0.1)


def test_one_patch_leaves_the_gain_and_its_own_uncertainty() -> None:
    """limit_relative |T - T_ref| / √3 and the patch's u, worked by hand, in place of limit and repeatability."""
    reading = measured(scene(), BESIDE)["hot"]
    hot_degc, patch_degc = seen_at(90.0), seen_at(45.0)
    # How the patch's radiance temperature follows from what is stated of it, by differences.
    du = (seen_at(45.1) - seen_at(44.9)) / 0.2 * 0.2
    de = (seen_at(45.0, 0.951) - seen_at(45.0, 0.949)) / 0.002 * 0.01
    at = [
        float(apparent_temperature(45.0, emissivity=0.95, reflected_degc=degc, band=PLAIN.band))
        for degc in (21.9, 22.1)
    ]
    dr = (at[1] - at[0]) / 0.2 * 3.0
    u_patch_k = sqrt(du**2 + de**2 + dr**2)
    found = terms(reading)
    to_surface = found["noise"].sensitivity
    assert found["camera gain"].u_k / to_surface == pytest.approx(0.02 * (hot_degc - patch_degc) / sqrt(3.0), rel=2e-3)
    assert found["reference"].u_k / to_surface == pytest.approx(u_patch_k, rel=0.01)
    assert (found["camera gain"].rectangular, found["camera gain"].shared) == (True, "session")
    assert (found["reference"].rectangular, found["reference"].shared) == (False, "frame")
    assert found.keys().isdisjoint({"camera limit", "repeatability"})
    without = terms(measured(scene())["hot"])
    assert {"camera limit", "repeatability"} <= without.keys()
    kept = found.keys() - {"camera gain", "reference"}
    assert without.keys() - {"camera limit", "repeatability"} == kept
    assert reading.U_max_k < measured(scene())["hot"].U_max_k


def test_two_patches_give_offset_and_gain() -> None:
    degc = scene(offset_k=1.1, gain=0.018)
    found = held_by(degc, BESIDE, WARM)
    assert found.line is not None
    assert found.line.gain == pytest.approx(1.0 / 1.018 - 1.0, abs=0.001)
    assert found.line.gain_bound == 0.0
    hot = measured(degc, BESIDE, WARM)["hot"]
    assert hot.max_degc == pytest.approx(90.0, abs=0.08)
    assert "camera gain" not in terms(hot)
    assert measured(degc, BESIDE)["hot"].max_degc == pytest.approx(90.0 + 1.06 * 0.018 * 43.5, abs=0.1)


def test_uncertainty_grows_beyond_two_patches() -> None:
    line = line_through([40.0, 80.0], [0.5, 1.0], [0.2, 0.2], 0.02)
    # Between and beyond: (1 - s) and s times each patch's u, s = (T - 40) / 40.
    for degc in (40.0, 60.0, 80.0, 120.0, 20.0):
        s = (degc - 40.0) / 40.0
        assert line.u_at(degc) == pytest.approx(hypot((1.0 - s) * 0.2, s * 0.2))
    corrected = on_the_line(np.array([40.0, 60.0, 100.0], np.float32), line)
    np.testing.assert_allclose(corrected, [40.5, 60.75, 101.25], atol=1e-4)


def test_the_more_certain_patch_weighs_more() -> None:
    line = line_through([50.0, 50.0], [0.0, 1.0], [0.1, 0.2], 0.02)
    assert line.offset_k == pytest.approx(0.2)  # 4 : 1
    assert line.u_offset_k == pytest.approx(1.0 / sqrt(1.0 / 0.01 + 1.0 / 0.04))


def test_patches_too_alike_to_tell_a_gain_count_as_one() -> None:
    near = replace(WARM, temperature_degc=45.0, px=(20.0, 123.0, 6.9))
    degc = scene(offset_k=0.8)
    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    degc[np.hypot(x - 20, y - 123) <= 7.2] = seen_at(45.0) + 0.8
    found = held_by(degc, BESIDE, near)
    assert found.line is not None
    assert (found.line.gain, found.line.gain_bound) == (0.0, 0.02)
    assert found.line.offset_k == pytest.approx(-0.8, abs=0.02)
    single = held_by(degc, BESIDE).line
    assert single is not None
    assert found.line.u_offset_k == pytest.approx(single.u_offset_k / sqrt(2.0), rel=0.02)


def test_three_patches_are_fitted_by_least_squares() -> None:
    x, y, u = np.array([30.0, 60.0, 90.0]), np.array([0.1, 0.5, 0.6]), np.array([0.2, 0.1, 0.2])
    line = line_through(x, y, u, 0.02)
    gain, offset = np.polyfit(x, y, 1, w=1.0 / u)
    covariance = np.linalg.inv(np.array([[np.sum(x * x / u**2), np.sum(x / u**2)], [np.sum(x / u**2), np.sum(u**-2)]]))
    for degc in (20.0, 75.0, 130.0):
        at = line.offset_k + line.gain * (degc - line.about_degc)
        assert at == pytest.approx(offset + gain * degc)
        assert line.u_at(degc) == pytest.approx(sqrt(np.array([degc, 1.0]) @ covariance @ np.array([degc, 1.0])))


def patch_seen(off_k: float, shown_degc: float = 45.0, u_k: float = 0.2, name: str = "p") -> PatchSeen:
    return PatchSeen(name, USED, 50, shown_degc, shown_degc + off_k, u_k)


def test_a_patch_further_off_than_the_camera_can_be_is_not_believed() -> None:
    allowed_k = 2.0 * sqrt((2.0 / sqrt(3.0)) ** 2 + 0.3**2 + 0.2**2)
    fine = judged([patch_seen(-0.99 * allowed_k)], ACCURACY)
    assert fine.line is not None
    doubtful = judged([patch_seen(-1.01 * allowed_k)], ACCURACY)
    assert (doubtful.line, doubtful.patches[0].state) == (None, DOUBTFUL)
    assert doubtful.limit_k == pytest.approx(1.01 * allowed_k)


def test_nothing_is_corrected_by_a_doubtful_patch_and_the_limit_is_as_wide_as_it_says() -> None:
    plain, doubted = (measured(scene(offset_k=6.0), *patches)["hot"] for patches in ((), (BESIDE,)))
    assert doubted.max_degc == plain.max_degc
    assert "reference-doubtful" in doubted.flags
    assert "reference-corrected" not in doubted.flags
    limit = terms(doubted)["camera limit"]
    assert limit.u_input == pytest.approx(6.0 / sqrt(3.0), abs=0.02)
    assert abs(doubted.max_degc - 90.0) < doubted.U_max_k
    assert "repeatability" in terms(doubted)
    assert dominant(doubted.budget) == "camera limit"
    assert doubted.verdict == "usable"


def test_patches_that_contradict_each_other_are_not_believed() -> None:
    found = judged([patch_seen(1.0, 45.0), patch_seen(-1.0, 47.0, name="q")], ACCURACY)
    assert found.line is None
    assert [patch.state for patch in found.patches] == [AT_ODDS, AT_ODDS]
    # The same difference is possible where the camera's gain can make it.
    far = judged([patch_seen(1.0, 30.0), patch_seen(-0.4, 95.0, name="q")], ACCURACY)
    assert far.line is not None


def test_a_patch_less_certain_than_the_camera_changes_nothing() -> None:
    found = judged([patch_seen(1.0, u_k=1.5)], ACCURACY)
    assert (found.line, found.patches[0].state, found.limit_k) == (None, LESS_CERTAIN, 0.0)
    assert camera_terms(ACCURACY, found, 90.0) == camera_terms(ACCURACY, None, 90.0)


@pytest.mark.parametrize(
    ("accuracy", "bound", "assumed"),
    [
        (Accuracy(2.0, 0.02, assumed=False), 0.02, False),
        (Accuracy(2.0, 0.0, assumed=False), 0.02, True),
        (Accuracy(0.5, 0.0, assumed=False), 0.005, True),
        (Accuracy(0.0, 0.01, assumed=False), 0.01, False),
        (Accuracy(), 0.02, False),
    ],
)
def test_without_a_relative_limit_the_fixed_one_over_a_hundred_kelvins_is_taken(
    accuracy: Accuracy, bound: float, assumed: bool
) -> None:
    found = judged([patch_seen(0.1, u_k=0.1)], accuracy)
    assert found.line is not None
    assert (found.line.gain_bound, found.gain_assumed) == (bound, assumed)
    gain, _ = camera_terms(accuracy, found, 95.0)
    assert gain.u_input == pytest.approx(bound * 50.0 / sqrt(3.0))


def test_an_assumed_gain_is_flagged() -> None:
    no_relative = replace(ACCURACY, limit_relative=0.0)
    assert "gain-limit-assumed" in measured(scene(), BESIDE, accuracy=no_relative)["hot"].flags
    assert "gain-limit-assumed" not in measured(scene(), BESIDE)["hot"].flags
    assert "gain-limit-assumed" not in measured(scene(), BESIDE, WARM, accuracy=no_relative)["hot"].flags


def only(found: Held) -> PatchSeen:
    (patch,) = found.patches
    return patch


@pytest.mark.parametrize(
    ("reference", "state"),
    [
        (replace(BESIDE, px=(168.0, 123.0, 6.9)), OUTSIDE),
        (replace(BESIDE, px=(400.0, 300.0, 6.9)), OUTSIDE),
        (replace(BESIDE, px=(150.0, 123.0, 2.9)), FEW),
        (replace(BESIDE, px=(150.0, 120.0, 9.0)), UNEVEN),
    ],
)
def test_a_patch_that_shows_badly_is_left_out_and_flagged(reference: Reference, state: str) -> None:
    degc = scene(offset_k=1.0)
    assert only(held_by(degc, reference)).state == state
    found = measured(degc, reference)["hot"]
    assert "reference-not-used" in found.flags
    plain = measured(degc)["hot"]
    assert (found.max_degc, found.U_max_k, found.budget) == (plain.max_degc, plain.U_max_k, plain.budget)


def test_something_in_front_of_a_patch_makes_it_uneven() -> None:
    degc = scene()
    degc[50:54, 100:150] = 30.0
    assert only(held_by(degc, ON_BOARD)).state == UNEVEN


def test_a_clipped_patch_is_left_out() -> None:
    accuracy = replace(ACCURACY, range_degc=(-20.0, 60.0))
    assert only(held_by(scene(hot_degc=50.0), WARM, accuracy=accuracy)).state == CLIPPED


def test_a_patch_of_the_other_side_is_no_reference_of_this_one() -> None:
    behind = replace(board(ON_BOARD), zones=(HOT, replace(PATCH, side="rear")))
    frame = frame_of(scene(), PLAIN)
    assert held(frame, behind, PLACEMENT, CONDITIONS) is frame


def test_a_sound_patch_helps_beside_one_that_shows_badly() -> None:
    found = held_frame(scene(offset_k=1.0), BESIDE, replace(WARM, px=(400.0, 300.0, 6.9)))
    assert found.held is not None
    assert found.held.line is not None
    assert set(found.flags) == {"reference-corrected", "reference-not-used"}


def test_an_uneven_patch_is_less_certain() -> None:
    calm, uneven = scene(), scene()
    uneven[45:74, 108:125] += 0.6
    certain, doubted = (only(held_by(degc, ON_BOARD)) for degc in (calm, uneven))
    assert doubted.state == USED
    assert doubted.u_k == pytest.approx(hypot(certain.u_k, 0.3), abs=0.02)


def test_dead_pixels_of_a_patch_do_not_count() -> None:
    degc = scene(offset_k=1.0)
    degc[55, 120] = 140.0
    found = held_by(degc, ON_BOARD)
    assert found.line is not None
    assert found.line.offset_k == pytest.approx(-1.0, abs=0.01)


def test_a_frame_is_held_once() -> None:
    frame = held_frame(scene(offset_k=1.0), BESIDE)
    assert held(frame, board(BESIDE), PLACEMENT, CONDITIONS) is frame
    readings = measure_zones(frame, board(BESIDE), PLACEMENT, CONDITIONS)
    assert readings[0].max_degc == pytest.approx(90.0, abs=0.05)


def test_the_picture_and_single_places_say_what_the_table_says() -> None:
    frame, kept = frame_of(scene(offset_k=1.5), PLAIN), board(BESIDE)
    hot = measure_zones(frame, kept, PLACEMENT, CONDITIONS)[0]
    x, y = round(hot.hot_x_px), round(hot.hot_y_px)
    assert surface_map(frame, kept, PLACEMENT, CONDITIONS)[y, x] == pytest.approx(hot.pixel_max_degc, abs=1e-4)
    single = measure_at(frame, kept, PLACEMENT, CONDITIONS, x, y)
    assert single.max_degc == pytest.approx(hot.pixel_max_degc, abs=1e-4)
    assert {"camera gain", "reference"} <= terms(single).keys()


def test_a_disc_on_the_board_is_not_elsewhere() -> None:
    degc = scene()
    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    degc[np.hypot(x - 80, y - 25) <= 9.0] += seen_at(110.0) - seen_at(50.0, 0.9)
    block = Reference("block", None, (80.0, 25.0, 10.5), 110.0, None, 0.2, 0.95, 0.01)
    assert "elsewhere-hottest" in measured(degc)["elsewhere"].flags
    found = measured(degc, block)["elsewhere"]
    assert "elsewhere-hottest" not in found.flags
    assert found.max_degc < 60.0


def test_a_patch_hotter_than_every_zone_hides_nothing_elsewhere() -> None:
    degc = scene(hot_degc=60.0, patch_degc=80.0)
    degc[15:28, 60:80] += seen_at(70.0, 0.9) - seen_at(50.0, 0.9)
    plate = replace(ON_BOARD, temperature_degc=80.0)
    assert "elsewhere-hottest" not in measured(degc)["elsewhere"].flags
    assert "elsewhere-hottest" in measured(degc, plate)["elsewhere"].flags


def test_the_surroundings_of_a_patch_are_taken_off_it() -> None:
    """A patch of emissivity 0.7 in surroundings of 40 °C that nobody mentions reads further off."""
    dull = replace(BESIDE, emissivity=0.7)
    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    warm = Conditions(ambient_degc=21.0, reflected_degc=40.0)
    degc = scene()
    shown = float(apparent_temperature(45.0, emissivity=0.7, reflected_degc=40.0, band=PLAIN.band))
    degc[np.hypot(x - 150, y - 123) <= 7.2] = shown + 0.5
    found = held(frame_of(degc, PLAIN), board(dull), PLACEMENT, warm).held
    assert found is not None
    assert found.line is not None
    assert found.line.offset_k == pytest.approx(-0.5, abs=0.02)


def test_a_line_that_corrects_nothing_leaves_temperatures_alone() -> None:
    degc = np.array([20.0, 90.0], np.float32)
    np.testing.assert_array_equal(on_the_line(degc, Line(0.0, 50.0, 0.1)), degc)


def test_a_disc_may_be_of_one_side_only() -> None:
    frame = frame_of(scene(offset_k=1.0), PLAIN)
    assert held(frame, board(replace(BESIDE, side="rear")), PLACEMENT, CONDITIONS) is frame
    assert held(frame, board(replace(BESIDE, side="front")), PLACEMENT, CONDITIONS).held is not None
