"""The sample study measured a second time, by other means, and every row of results.csv held against it.

Nothing here measures with the package: frames come from tifffile, text from tomllib, the lens from OpenCV, the
placement from eight linear equations (held against OpenCV's `findHomography`), raised zones from OpenCV's `solvePnP`
and `projectPoints`, membership from shapely on every pixel centre of the frame, radiance from SciPy's quadrature with
its inverse by spline (held against mpmath and root finding), uncertainty from finite differences. The package runs the
study and looks up what a named material stands for.
"""

from __future__ import annotations

import csv
import json
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import cv2
import mpmath
import numpy as np
import pytest
import shapely
import tifffile
from numpy.typing import NDArray
from scipy.constants import c, h, k, zero_Celsius
from scipy.integrate import quad_vec
from scipy.interpolate import CubicSpline
from scipy.ndimage import binary_dilation, binary_erosion, distance_transform_edt, median_filter
from scipy.optimize import brentq

from irspot.files.materials import MATERIALS
from irspot.workflow.run import run_study

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

SAMPLES = Path(__file__).parents[2] / "sample_images"
STUDY = tomllib.loads((SAMPLES / "study.toml").read_text(encoding="utf-8"))
RUNS = [run for run in STUDY["run"] if run["frames"].endswith(".tiff")]
CAMERA = tomllib.loads((SAMPLES / "camera.toml").read_text(encoding="utf-8"))
DEFAULT_EMISSIVITY, DEFAULT_U = 0.90, 0.03  # what README promises where a zone says nothing

# Of the table's own decimals, half a unit; the rest is float32 arithmetic on temperatures of about 100 °C.
VALUE_K = 0.0005 + 0.0003
PLACE_MM = PLACE_PX = 0.005 + 0.002


# --- radiance: the band integral by quadrature, its inverse by spline ------- -----------------------------------------


def spectral_radiance(wavelength_um: FloatArray, kelvin: FloatArray) -> FloatArray:
    """Planck's law per µm, W m⁻² sr⁻¹ µm⁻¹ (in metres first, as textbooks print it)."""
    metres = wavelength_um * 1e-6
    return np.asarray(2.0 * h * c**2 / metres**5 / np.expm1(h * c / (metres * k * kelvin)) * 1e-6)


@cache
def band() -> CubicSpline:
    """In-band radiance over °C, from a quadrature at every half kelvin."""
    degc = np.arange(-60.0, 260.0, 0.5)
    lower, upper = CAMERA["band"]["lower_um"], CAMERA["band"]["upper_um"]
    radiance, _ = quad_vec(lambda um: spectral_radiance(um, degc + zero_Celsius), lower, upper, epsrel=1e-12)
    return CubicSpline(degc, radiance)


@cache
def band_inverse() -> CubicSpline:
    degc = np.arange(-60.0, 259.0, 0.1)
    return CubicSpline(band()(degc), degc)


def surface_degc(radiance_degc: FloatArray | float, emissivity: float, reflected_degc: float) -> FloatArray:
    """Solve L(T_radiance) = e L(T) + (1 - e) L(T_reflected) for T."""
    radiance = (band()(radiance_degc) - (1.0 - emissivity) * band()(reflected_degc)) / emissivity
    return np.asarray(band_inverse()(radiance))


@pytest.mark.parametrize("degc", [-20.0, 22.2, 75.6, 149.0])
def test_this_radiance_is_right(degc: float) -> None:
    lower, upper = CAMERA["band"]["lower_um"], CAMERA["band"]["upper_um"]
    c1, c2 = mpmath.mpf(2) * h * c**2 * 10**24, mpmath.mpf(h) * c / k * 10**6
    kelvin = mpmath.mpf(degc) + mpmath.mpf("273.15")
    exact = mpmath.quad(lambda um: c1 / um**5 / mpmath.expm1(c2 / (um * kelvin)), [lower, upper])
    assert float(band()(degc)) == pytest.approx(float(exact), rel=1e-9)
    root = brentq(lambda t: float(band()(t)) - float(exact), -59.0, 250.0, xtol=1e-10)
    assert float(band_inverse()(float(exact))) == pytest.approx(root, abs=1e-6)


# --- placement: OpenCV's lens model, a plane's perspective ----------------------------------------------------------


def lens() -> tuple[FloatArray, FloatArray]:
    optics = CAMERA["optics"]
    focal, (x, y) = optics["focal_px"], optics["principal_px"]
    return np.array([[focal, 0.0, x], [0.0, focal, y], [0.0, 0.0, 1.0]]), np.array(optics["distortion"])


def undistorted(xy_px: FloatArray) -> FloatArray:
    matrix, bend = lens()
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 100, 1e-14)
    straight = cv2.undistortImagePoints(xy_px[:, None, :], matrix, bend, None, criteria)
    return np.asarray(straight[:, 0, :], np.float64)


@cache
def straight_centres(shape: tuple[int, int]) -> FloatArray:
    """All pixel centres, row by row, in the undistorted image."""
    rows, columns = np.indices(shape)
    return undistorted(np.column_stack([columns.ravel(), rows.ravel()]).astype(np.float64))


def distorted(xy_px: FloatArray) -> FloatArray:
    matrix, bend = lens()
    rays = np.column_stack([(xy_px - matrix[:2, 2]) / matrix[0, 0], np.ones(len(xy_px))])
    bent, _ = cv2.projectPoints(rays[:, None, :], np.zeros(3), np.zeros(3), matrix, bend)
    return np.asarray(bent[:, 0, :], np.float64)


def carried(matrix: FloatArray, xy: FloatArray) -> FloatArray:
    return np.asarray(cv2.perspectiveTransform(np.ascontiguousarray(xy, np.float64)[:, None, :], matrix)[:, 0, :])


def perspective(xy_mm: FloatArray, xy_px: FloatArray) -> FloatArray:
    """Solve the eight equations of four points (OpenCV's own solvers round their input to single precision)."""
    equations, right = [], []
    for (x, y), (u, v) in zip(xy_mm, xy_px, strict=True):
        equations += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    return np.append(np.linalg.solve(np.array(equations, np.float64), right), 1.0).reshape(3, 3)


# --- shapes: shapely ------------------------------------------------------------------------------------------------


def region(table: dict[str, Any]) -> shapely.Geometry:
    """Make a zone's shape; a disc of many corners that strays under a nanometre from the circle."""
    if "circle_mm" in table:
        x, y, radius = table["circle_mm"]
        return shapely.Point(x, y).buffer(radius, quad_segs=40_000)
    return shapely.Polygon(table["polygon_mm"])


def holds(shape: shapely.Geometry, places_mm: FloatArray) -> BoolArray:
    shapely.prepare(shape)
    return np.asarray(shapely.intersects_xy(shape, places_mm[:, 0], places_mm[:, 1]))


# --- one frame ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class View:
    run: dict[str, Any]
    board: dict[str, Any]
    stored: NDArray[np.uint16]
    degc: FloatArray
    sound: BoolArray
    matrix: FloatArray

    @property
    def side(self) -> str:
        return str(self.run["side"])

    @cached_property
    def pose(self) -> tuple[FloatArray, FloatArray]:
        """Rotation vector and translation by OpenCV; a rear view has x to the left."""
        solid = self.solid(corners_mm(self.board), 0.0)
        straight = undistorted(np.array(self.run["corners_px"]))[:, None, :]
        _, turn, shift = cv2.solvePnP(solid, straight, lens()[0], None, flags=cv2.SOLVEPNP_IPPE)
        criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 1000, 1e-15)
        return cv2.solvePnPRefineLM(solid, straight, lens()[0], None, turn, shift, criteria)

    def solid(self, xy_mm: FloatArray, height_mm: float) -> FloatArray:
        mirror = [1.0 if self.side == "front" else -1.0, 1.0]
        return np.column_stack([xy_mm * mirror, np.full(len(xy_mm), height_mm)])

    def seen(self, xy_mm: FloatArray, height_mm: float) -> FloatArray:
        """Project places at a height into the undistorted image."""
        seen, _ = cv2.projectPoints(self.solid(xy_mm, height_mm), *self.pose, lens()[0], None)
        return np.asarray(seen[:, 0, :])

    def matrix_at(self, height_mm: float) -> FloatArray:
        """The placement carried as far as the pose carries the board's corners from height 0 to this one."""
        if height_mm == 0.0:
            return self.matrix
        corners = corners_mm(self.board)
        return perspective(self.seen(corners, 0.0), self.seen(corners, height_mm)) @ self.matrix

    def holds(self, shape: shapely.Geometry, height_mm: float = 0.0) -> BoolArray:
        """Say which pixel centres lie in a shape at a height."""
        centres_mm = carried(np.linalg.inv(self.matrix_at(height_mm)), straight_centres(self.stored.shape))
        return holds(shape, centres_mm).reshape(self.stored.shape)


@dataclass(frozen=True)
class Zone:
    table: dict[str, Any]
    shape: shapely.Geometry
    emissivity: float
    u_emissivity: float

    @property
    def height_mm(self) -> float:
        return float(self.table.get("height_mm", 0.0))


def corners_mm(board: dict[str, Any]) -> FloatArray:
    width, height = board["outline"]["width_mm"], board["outline"]["height_mm"]
    return np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])


def view_of(run: dict[str, Any]) -> View:
    (listed,) = [board for board in STUDY["board"] if board["id"] == run["board"]]
    board = tomllib.loads((SAMPLES / listed["file"]).read_text(encoding="utf-8"))
    stored = tifffile.imread(SAMPLES / run["frames"])
    matrix = perspective(corners_mm(board), undistorted(np.array(run["corners_px"])))
    degc = stored * CAMERA["signal"]["scale"] - zero_Celsius
    return View(run, board, stored, degc, sound_pixels(degc), matrix)


def sound_pixels(degc: FloatArray) -> BoolArray:
    """Leave out declared dead pixels, and single ones that their whole neighbourhood contradicts by kelvins."""
    sound = np.ones(degc.shape, dtype=bool)
    for x, y in CAMERA["pixels"]["dead_px"]:
        sound[y, x] = False
    ring = np.ones((3, 3), dtype=bool)
    ring[1, 1] = False
    excess = np.abs(degc - median_filter(degc, footprint=ring))
    # The sample scene is smooth (blur 0.8 px): apart from defects, no pixel of it strays so far from all round it.
    beyond = np.array([np.roll(degc, (i, j), (0, 1)) for i in (-1, 0, 1) for j in (-1, 0, 1) if (i, j) != (0, 0)])
    outside = (degc > beyond.max(axis=0) + 3.0) | (degc < beyond.min(axis=0) - 3.0)
    return np.asarray(sound & ~((excess > 3.0) & outside))


def zones_of(view: View) -> Iterator[Zone]:
    zones = [zone for zone in view.board["zone"] if zone.get("side", "front") == view.side]
    for zone in zones:
        shape = region(zone)
        for part in zone.get("exclude", []):
            shape = shapely.difference(shape, region(part))
        yield Zone(zone, shape, *emissivity_of(zone))
    outline = view.board["outline"]
    whole = shapely.box(0.0, 0.0, outline["width_mm"], outline["height_mm"])
    yield Zone({"id": "elsewhere"}, whole, DEFAULT_EMISSIVITY, DEFAULT_U)


def emissivity_of(zone: dict[str, Any]) -> tuple[float, float]:
    if "emissivity" in zone:
        return zone["emissivity"], zone["u_emissivity"]
    if "material" in zone:
        material = MATERIALS[zone["material"]]
        return material.emissivity, material.u_emissivity
    return DEFAULT_EMISSIVITY, DEFAULT_U


def expected_u_max_k(radiance_degc: float, zone: Zone, reflected_degc: float) -> float:
    """Propagate by finite differences; k = 2."""
    accuracy = CAMERA["accuracy"]
    u_radiance = np.sqrt(
        (max(accuracy["limit_k"], accuracy["limit_relative"] * radiance_degc) / np.sqrt(3.0)) ** 2
        + accuracy["repeatability_k"] ** 2
        + accuracy["noise_k"] ** 2
    )

    def at(step: FloatArray) -> float:
        return float(surface_degc(radiance_degc + step[0], zone.emissivity + step[1], reflected_degc + step[2]))

    steps = np.diag([0.05, 1e-3, 0.1])
    slopes = [(at(step) - at(-step)) / (2.0 * step.sum()) for step in steps]
    return float(2.0 * np.linalg.norm(np.array(slopes) * [u_radiance, zone.u_emissivity, STUDY["u_reflected_k"]]))


def expected_row(view: View, zone: Zone) -> dict[str, Any]:
    """Work out every figure of one zone."""
    mask = mask_of(view, zone)
    used = mask & view.sound
    reflected, ambient = view.run["reflected_degc"], view.run["ambient_degc"]
    surface = np.where(used, surface_degc(view.degc, zone.emissivity, reflected), np.nan)
    row, column = np.unravel_index(np.nanargmax(surface), surface.shape)
    blocks = np.lib.stride_tricks.sliding_window_view(surface, (3, 3)).mean(axis=(2, 3))
    u_max_k = expected_u_max_k(float(view.degc[row, column]), zone, reflected)
    block = surface[row - 1 : row + 2, column - 1 : column + 2]
    x_px, y_px = top_of(view.degc[row - 1 : row + 2, column - 1 : column + 2]) if np.isfinite(block).all() else (0, 0)
    return {
        "max_degc": float(np.nanmax(surface)),
        "pixel_max_degc": float(np.nanmax(surface)),
        "peak3x3_degc": float(np.nanmax(blocks)),
        "mean_degc": float(np.nanmean(surface)),
        "p95_degc": float(np.nanpercentile(surface, 95.0)),
        "U_max_k": u_max_k,
        "bordering_k": bordering_k(view, zone, mask),
        "rise_k": float(np.nanmax(surface)) - ambient,
        "U_rise_k": float(np.hypot(u_max_k, 2.0 * STUDY["u_ambient_k"])),
        "pixels": int(used.sum()),
        "mask": mask,
        "row": int(row),
        "column": int(column),
        "hot_x_px": column + x_px,
        "hot_y_px": row + y_px,
        "whole_block": float(np.isfinite(block).all()),
        "across_px": across_px(view, zone, mask),
        "emissivity": zone.emissivity,
        "reflected_degc": reflected,
        "ambient_degc": ambient,
    }


def mask_of(view: View, zone: Zone) -> BoolArray:
    mask = view.holds(zone.shape, zone.height_mm)
    if zone.table["id"] == "elsewhere":
        # The border of a zone belongs to the zone; so does the flank between where it stands and where it appears.
        for other in view.board["zone"]:
            if other.get("side", "front") == view.side:
                shape = region(other)
                for height_mm in {0.0, float(other.get("height_mm", 0.0))}:
                    mask &= ~view.holds(shape, height_mm)
    return mask


def bordering_k(view: View, zone: Zone, mask: BoolArray) -> float:
    """How far the maximum changes when the zone grows or shrinks by three pixels, more than misplacement can do."""
    surface = np.where(view.sound, surface_degc(view.degc, zone.emissivity, view.run["reflected_degc"]), -np.inf)
    here, grown, shrunk = (
        float(surface[each].max(initial=-np.inf))
        for each in (mask, binary_dilation(mask, iterations=3), binary_erosion(mask, iterations=3, border_value=1))
    )
    return max(grown - here, here - shrunk)


def top_of(block: FloatArray) -> tuple[float, float]:
    """Top of the least-squares quadratic through 3 × 3 values, no further than half a pixel off."""
    y, x = (axis.ravel() - 1.0 for axis in np.indices((3, 3)))
    design = np.column_stack([np.ones(9), x, y, x * x, x * y, y * y])
    _, b, c_, d, e, f = np.linalg.lstsq(design, block.ravel(), rcond=None)[0]
    bend = np.array([[2.0 * d, e], [e, 2.0 * f]])
    if np.any(np.linalg.eigvalsh(bend) >= 0.0):
        return 0.0, 0.0
    dx, dy = np.clip(np.linalg.solve(bend, [-b, -c_]), -0.5, 0.5)
    return float(dx), float(dy)


def across_px(view: View, zone: Zone, mask: BoolArray) -> float:
    if zone.table["id"] == "elsewhere":
        return 2.0 * float(distance_transform_edt(np.pad(mask, 1)).max()) - 1.0
    fine = shapely.segmentize(shapely.simplify(zone.shape, 1e-4), 0.5)
    in_px = shapely.transform(fine, lambda xy: distorted(carried(view.matrix_at(zone.height_mm), xy)))
    return 2.0 * float(shapely.length(shapely.maximum_inscribed_circle(in_px, tolerance=0.005)))


# --- held against the package ---------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("independent")
    run_study(SAMPLES / "study.toml", folder, pictures=False)
    return folder


@pytest.fixture(scope="module")
def compared(results: Path) -> list[tuple[dict[str, str], dict[str, Any], View, Zone]]:
    with (results / "results.csv").open(encoding="utf-8", newline="") as stream:
        rows = [row for row in csv.DictReader(stream) if row["frame"].endswith(".tiff")]
    views = [view_of(run) for run in RUNS]
    mine = [(view, zone) for view in views for zone in zones_of(view)]
    assert [(row["frame"], row["zone"]) for row in rows] == [
        (Path(view.run["frames"]).name, zone.table["id"]) for view, zone in mine
    ]
    return [(row, expected_row(view, zone), view, zone) for row, (view, zone) in zip(rows, mine, strict=True)]


Compared = list[tuple[dict[str, str], dict[str, Any], View, Zone]]


def largest(compared: Compared, column: str) -> float:
    return max(abs(float(row[column]) - expected[column]) for row, expected, *_ in compared)


@pytest.mark.parametrize(
    "column",
    ["pixel_max_degc", "peak3x3_degc", "mean_degc", "p95_degc"],
)
def test_temperatures_agree(compared: Compared, column: str) -> None:
    print(f"{column}: largest difference of {len(compared)} rows {largest(compared, column):.6f} K")
    assert largest(compared, column) <= VALUE_K


@pytest.fixture(scope="module")
def budgets(results: Path) -> list[dict[str, float]]:
    """Standard uncertainties by term, K, of the rows compared."""
    rows = json.loads((results / "results.json").read_text(encoding="utf-8"))["rows"]
    return [{t["name"]: t["u_k"] for t in row["budget"]} for row in rows if row["frame"].endswith(".tiff")]


def test_maxima_are_the_hottest_pixels_and_their_corrections(
    compared: Compared, budgets: list[dict[str, float]]
) -> None:
    """What blur hides is added, what noise adds taken off: the budget holds 0.3 of the one, 0.5 of the other."""
    for (row, expected, *_), terms in zip(compared, budgets, strict=True):
        change = terms.get("spot size", 0.0) / 0.3 - terms["noise bias"] / 0.5
        assert float(row["max_degc"]) - expected["max_degc"] == pytest.approx(change, abs=0.01 + 0.02 * abs(change))
        assert -0.5 < change < 1.5
        assert float(row["rise_k"]) == pytest.approx(float(row["max_degc"]) - expected["ambient_degc"], abs=0.001)


@pytest.mark.parametrize("column", ["U_max_k", "U_rise_k"])
def test_uncertainties_agree_but_for_the_zones_place(
    compared: Compared, budgets: list[dict[str, float]], column: str
) -> None:
    """Where the zone's border cuts no slope they are equal; else the difference is no more than the slope allows.

    What the corrections leave uncertain is taken off first; they move the maximum a little, and sensitivities with it.
    """
    inside, cut = [], []
    for (row, expected, *_), terms in zip(compared, budgets, strict=True):
        of_corrections = 4.0 * (terms.get("spot size", 0.0) ** 2 + terms["noise bias"] ** 2)
        found = float(np.sqrt(float(row[column]) ** 2 - of_corrections))
        (inside if expected["bordering_k"] == 0.0 else cut).append((found, expected))
    misses = [abs(found - expected[column]) / expected[column] for found, expected in inside]
    print(f"{column}: largest difference of {len(inside)} rows {max(misses):.2%}; {len(cut)} rows with a border")
    assert max(misses) <= 0.005
    assert len(inside) > len(cut)
    for found, expected in cut:
        assert 0.997 * expected[column] <= found
        assert found <= 1.003 * np.hypot(expected[column], expected["bordering_k"])
    assert any(found > expected[column] + 0.1 for found, expected in cut), "somewhere it counts"


@pytest.mark.parametrize("column", ["pixels", "emissivity", "reflected_degc", "ambient_degc"])
def test_counts_and_settings_are_the_same(compared: Compared, column: str) -> None:
    assert largest(compared, column) == 0.0


def test_widths_agree(compared: Compared) -> None:
    misses = {True: [0.0], False: [0.0]}
    for row, expected, _, zone in compared:
        misses[zone.table["id"] == "elsewhere"].append(abs(float(row["across_px"]) - expected["across_px"]))
    print(f"across_px: largest difference {max(misses[False]):.3f} px, of elsewhere {max(misses[True]):.3f} px")
    assert max(misses[False]) <= 0.1
    assert max(misses[True]) <= 1.0


def test_hot_spots_are_in_the_same_place(compared: Compared) -> None:
    misses_px, misses_mm = [], []
    for row, expected, view, zone in compared:
        found = np.array([[float(row["hot_x_px"]), float(row["hot_y_px"])]])
        assert np.abs(found - [expected["column"], expected["row"]]).max() <= 0.505
        if expected["whole_block"]:
            misses_px.append(float(np.abs(found - [expected["hot_x_px"], expected["hot_y_px"]]).max()))
        place_mm = carried(np.linalg.inv(view.matrix_at(zone.height_mm)), undistorted(found))[0]
        misses_mm.append(float(np.abs(place_mm - [float(row["hot_x_mm"]), float(row["hot_y_mm"])]).max()))
    print(f"hot spot: {max(misses_px):.4f} px of {len(misses_px)} rows, {max(misses_mm):.4f} mm of {len(misses_mm)}")
    assert len(misses_px) >= len(compared) // 2
    assert max(misses_px) <= PLACE_PX
    # The rounding of the place in px counts once more, at about 0.55 mm a px.
    assert max(misses_mm) <= PLACE_MM + 0.005


def test_flags_and_verdicts_follow_from_the_files(compared: Compared) -> None:
    hottest: dict[str, float] = {}
    for row, expected, _, zone in compared:
        flags = set(filter(None, row["flags"].split(";")))
        stated = {"emissivity", "material"} & zone.table.keys()
        assert ("emissivity-assumed" in flags) == (not stated)
        assert not flags & {"height-not-corrected", "pose-doubtful"}
        assert row["place_off_mm"] == ""
        declared = any(expected["mask"][y, x] for x, y in CAMERA["pixels"]["dead_px"])
        assert ("dead-pixels-excluded" in flags) == declared
        if zone.table["id"] == "elsewhere":
            assert ("elsewhere-hottest" in flags) == (float(row["max_degc"]) > hottest[row["frame"]])
        hottest[row["frame"]] = max(hottest.get(row["frame"], -273.15), float(row["max_degc"]))
        small = expected["across_px"] < 4.0 or "small-hot-spot" in flags
        assert row["verdict"] == ("lower bound" if small else "usable")
        if "small-hot-spot" in flags:
            assert float(row["hot_width_px"]) < 4.0


def test_placements_in_provenance_carry_the_board_as_opencv_does(results: Path) -> None:
    document = json.loads((results / "results.json").read_text(encoding="utf-8"))
    for run, listed in zip(RUNS, document["runs"][: len(RUNS)], strict=True):
        placement, view = listed["frames"][0]["placement"], view_of(run)
        matrix = np.array(placement["matrix_mm_to_px"])
        np.testing.assert_allclose(matrix, view.matrix, rtol=1e-9, atol=1e-11)
        corners = corners_mm(view.board)
        straight = undistorted(np.array(run["corners_px"]))
        opencv, _ = cv2.findHomography(corners, straight)
        inside = np.array(
            [[x, y] for x in np.linspace(*corners[[0, 2], 0], 7) for y in np.linspace(*corners[[0, 2], 1], 5)]
        )
        np.testing.assert_allclose(carried(matrix, inside), carried(opencv, inside), atol=1e-4)
        np.testing.assert_allclose(carried(matrix, corners), straight, atol=1e-6)
        assert placement["residual_px"] < 1e-6


def test_raised_places_appear_where_opencv_projects_them(results: Path) -> None:
    """The pose in results.json, taken alone, carries places at heights as `solvePnP` and `projectPoints` do."""
    document = json.loads((results / "results.json").read_text(encoding="utf-8"))
    (focal, _, x0), (_, _, y0), _ = lens()[0]
    moved_px = []
    for run, listed in zip(RUNS, document["runs"][: len(RUNS)], strict=True):
        pose, view = listed["frames"][0]["placement"]["pose"], view_of(run)
        for zone in zones_of(view):
            places = np.array(zone.shape.envelope.exterior.coords)[:-1]
            solid = np.column_stack([places, np.full(len(places), zone.height_mm)])
            x, y, depth = (solid @ np.array(pose["rotation"]).T + pose["translation_mm"]).T
            mine = np.column_stack([focal * x / depth + x0, focal * y / depth + y0])
            np.testing.assert_allclose(mine, view.seen(places, zone.height_mm), atol=1e-3)
            moved_px.append(float(np.hypot(*(mine - carried(view.matrix, places)).T).max()))
        # Corners rounded to a tenth of a pixel lie that near to a rigid view.
        assert pose["residual_px"] < 0.2
    print(f"raised zones appear up to {max(moved_px):.1f} px from where they stand")
    assert max(moved_px) > 10.0


def test_pictures_say_what_the_frames_behind_them_say(results: Path) -> None:
    """Decoding loses no more than its own term of the budget, and that term is what a picture's U has more."""
    listed = json.loads((results / "results.json").read_text(encoding="utf-8"))["rows"]
    rows = {(row["frame"], row["zone"]): row for row in listed}
    shares = []
    for (frame, zone), row in rows.items():
        behind = rows.get((f"{Path(frame).stem.removesuffix('-picture')}.tiff", zone))
        if frame.endswith(".tiff") or behind is None or row["verdict"] != "usable":
            continue
        of_picture, of_frame = ({term["name"]: term["u_k"] for term in each["budget"]} for each in (row, behind))
        assert set(of_picture) - set(of_frame) == {"decoding"}
        shares.append(abs(row["pixel_max_degc"] - behind["pixel_max_degc"]) / (2.0 * of_picture["decoding"]))
    print(f"{len(shares)} zones of pictures: difference / U of decoding {np.round(np.sort(shares), 2)}")
    assert len(shares) >= 15
    assert np.mean(np.array(shares) <= 1.0) >= 0.9
