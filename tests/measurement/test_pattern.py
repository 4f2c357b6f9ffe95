"""The camera's pattern: a difference of radiance, whatever temperature it is seen at."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from irspot.camera import Accuracy, Band
from irspot.camera_error import Pattern
from irspot.measurement import measure_at, measure_zones, surface_map
from irspot.measurement.cold_frame import pattern_of
from irspot.measurement.pattern import noise_with_k, pattern_terms, shrinks_to, without_pattern
from irspot.measurement.pixels import pixels_of
from irspot.radiometry import band_table

from .scenes import BOARD, CAMERA, COLUMNS, CONDITIONS, ROWS, frame_of, ramp, straight_placement

BAND = Band(8.0, 14.0)
PLANCK, LIGHT, BOLTZMANN = 6.62607015e-34, 299792458.0, 1.380649e-23


def slope_by_hand(degc: float) -> float:
    """dL/dT of Planck's law over 8 to 14 µm, by quadrature of the derivative, in SI units throughout."""
    kelvin = degc + 273.15

    def integrand(wavelength: float) -> float:
        x = PLANCK * LIGHT / (wavelength * BOLTZMANN * kelvin)
        return 2 * PLANCK * LIGHT**2 / wavelength**5 * x / kelvin * np.exp(x) / np.expm1(x) ** 2

    return quad(integrand, 8e-6, 14e-6)[0]


def bumpy(degc: np.ndarray, deviation_k: np.ndarray, at_degc: float = 23.0) -> np.ndarray:
    """What a camera shows that adds to each pixel's radiance what makes so many kelvins at a temperature."""
    table = band_table(BAND)
    added = table.radiance(at_degc + deviation_k) - table.radiance(at_degc)
    return np.asarray(table.temperature_degc(table.radiance(degc) + added))


def even_pattern(deviation_k: np.ndarray, noise_k: float = 0.0, scene_k: float = 0.0) -> Pattern:
    added = band_table(BAND).radiance(23.0 + deviation_k) - band_table(BAND).radiance(23.0)
    scene = np.full(deviation_k.shape, scene_k, np.float32)
    return Pattern(added.astype(np.float32), 23.0, noise_k, scene, 1, 0.0)


def test_one_kelvin_at_room_temperature_is_six_tenths_at_ninety_degrees() -> None:
    by_hand = slope_by_hand(23.0) / slope_by_hand(90.0)
    assert round(by_hand, 1) == 0.6
    assert by_hand == pytest.approx(0.611, abs=5e-4)  # computed once by the quadrature above
    pattern = even_pattern(np.zeros((1, 1)))
    assert shrinks_to(pattern, 90.0, BAND) == pytest.approx(by_hand, rel=1e-6)
    assert shrinks_to(pattern, 23.0, BAND) == 1.0


def test_a_pixel_one_kelvin_off_at_room_temperature_is_corrected_by_six_tenths() -> None:
    pattern = even_pattern(np.array([[0.0, 1.0, -1.0]]))
    found = without_pattern(np.full((1, 3), 90.0, np.float32), pattern, BAND)
    np.testing.assert_allclose(found[0] - 90.0, [0.0, -0.61, 0.61], atol=0.01)


def test_what_was_not_measured_stays_so() -> None:
    found = without_pattern(np.array([[np.nan, 50.0]], np.float32), even_pattern(np.zeros((1, 2))), BAND)
    assert np.isnan(found[0, 0])
    assert found[0, 1] == pytest.approx(50.0, abs=1e-4)


def test_noise_and_terms_follow_the_same_ratio() -> None:
    pattern = even_pattern(np.zeros((2, 2)), noise_k=0.1, scene_k=0.3)
    ratio = shrinks_to(pattern, 90.0, BAND)
    assert noise_with_k(0.05, pattern, 90.0, BAND) == pytest.approx(np.hypot(0.05, 0.1 * ratio))
    assert noise_with_k(0.05, None, 90.0, BAND) == 0.05
    (term,) = pattern_terms(pattern, 1.4, 0.2, 90.0, BAND)
    assert term.u_k == pytest.approx(np.hypot(0.1, 0.3 / np.sqrt(3.0)) * ratio)
    assert list(pattern_terms(None, 1.0, 1.0, 90.0, BAND)) == []


def a_pattern(seed: int = 3) -> np.ndarray:
    """Shading, rows and columns, and pixels that differ, in kelvins at room temperature."""
    random = np.random.default_rng(seed)
    y, x = np.mgrid[-1 : 1 : ROWS * 1j, -1 : 1 : COLUMNS * 1j]
    shading = 1.5 * (x * x + y * y) / 2.0 - 0.8 * x
    lines = 0.2 * random.standard_normal(COLUMNS) + 0.2 * random.standard_normal(ROWS)[:, None]
    return np.asarray(shading + lines + 0.4 * random.standard_normal((ROWS, COLUMNS)))


def test_a_seeded_pattern_is_taken_off_before_anything_is_measured() -> None:
    truth, deviation_k = ramp().astype(np.float64) + 30.0, a_pattern()
    deviation_k -= np.median(deviation_k)
    camera = replace(CAMERA, accuracy=Accuracy(1.0, 0.01, noise_k=0.001, assumed=False))
    cold = frame_of(bumpy(np.full((ROWS, COLUMNS), 21.5), deviation_k, 21.5), camera)
    frame = frame_of(bumpy(truth, deviation_k, 21.5), camera)
    held = replace(frame, pattern=pattern_of(cold, CONDITIONS), flags=("pattern-removed",))
    np.testing.assert_allclose(pixels_of(held).radiance_degc, truth, atol=2e-3)
    placement = straight_placement()
    ideal = measure_zones(frame_of(truth, camera), BOARD, placement, CONDITIONS)
    with_it = measure_zones(frame, BOARD, placement, CONDITIONS)
    without = measure_zones(held, BOARD, placement, CONDITIONS)
    assert max(abs(a.pixel_max_degc - b.pixel_max_degc) for a, b in zip(ideal, without, strict=True)) < 0.01
    assert max(abs(a.pixel_max_degc - b.pixel_max_degc) for a, b in zip(ideal, with_it, strict=True)) > 0.1
    assert all("pattern-removed" in reading.flags for reading in without)
    assert {term.name for term in without[0].budget} - {term.name for term in ideal[0].budget} == {"cold frame"}
    # The picture shows what the table says, and so does a single place.
    shown = surface_map(held, BOARD, placement, CONDITIONS)
    x, y = round(without[0].hot_x_px), round(without[0].hot_y_px)
    assert shown[y, x] == pytest.approx(without[0].pixel_max_degc, abs=1e-4)
    single = measure_at(held, BOARD, placement, CONDITIONS, x, y)
    assert single.max_degc == pytest.approx(without[0].pixel_max_degc, abs=1e-4)
    assert "cold frame" in {term.name for term in single.budget}


def test_the_bias_of_the_hottest_knows_the_noise_of_both_frames() -> None:
    """Of an even surface the maximum of noisy pixels is lowered by more where the cold frame's noise was added."""
    random = np.random.default_rng(8)
    camera = replace(CAMERA, accuracy=Accuracy(1.0, 0.01, noise_k=0.2, assumed=False))
    errors: dict[str, list[float]] = {"corrected": [], "raw": []}
    for _ in range(12):
        noise = 0.2 * random.standard_normal((2, ROWS, COLUMNS))
        cold = frame_of(21.0 + noise[0], camera)
        frame = replace(frame_of(70.0 + noise[1], camera), pattern=pattern_of(cold, CONDITIONS))
        reading = measure_zones(frame, BOARD, straight_placement(), CONDITIONS)[0]
        flat = measure_zones(frame_of(np.full((ROWS, COLUMNS), 70.0), camera), BOARD, straight_placement(), CONDITIONS)
        errors["raw"].append(reading.pixel_max_degc - flat[0].pixel_max_degc)
        errors["corrected"].append(reading.max_degc - flat[0].pixel_max_degc)
    assert np.mean(errors["raw"]) > 0.6
    # Smoothing by the pixels themselves leaves up to a half (`noise_bias`), which its term of the budget covers.
    assert abs(np.mean(errors["corrected"])) < 0.5 * np.mean(errors["raw"])


def test_clipping_is_judged_by_what_the_camera_recorded() -> None:
    accuracy = Accuracy(1.0, 0.01, noise_k=0.05, range_degc=(-20.0, 150.0), assumed=False)
    camera = replace(CAMERA, accuracy=accuracy)
    deviation_k = np.zeros((ROWS, COLUMNS))
    deviation_k[:, : COLUMNS // 2] = 1.0
    pattern = even_pattern(deviation_k)
    degc = np.full((ROWS, COLUMNS), 60.0)
    degc[30:40, 20:30], degc[30:40, 120:130] = 150.0, 149.99
    frame = replace(frame_of(degc, camera), pattern=replace(pattern, radiance=pattern.radiance - np.float32(0.6)))
    clipped = pixels_of(frame).clipped.high
    assert clipped is not None
    assert clipped[35, 25]  # recorded at the end, though corrected to less
    assert not clipped[35, 125]  # recorded below the end, though corrected to more
