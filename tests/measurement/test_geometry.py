"""Which pixels belong to a zone, and how wide it is."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import numpy as np
import pytest
import shapely
from exactextract import exact_extract
from exactextract.raster import NumPyRasterSource
from hypothesis import given
from hypothesis import strategies as st

from irspot.board import Board, Zone
from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.measurement.geometry import (
    check_shape,
    geometry_of,
    inside,
    inside_one_by_one,
    zone_pixels,
)
from irspot.measurement.outline_px import border_px
from irspot.registration.placement import Placement
from irspot.shapes import Circle, Polygon, Shape, rectangle

from .scenes import (
    BOARD,
    COLUMNS,
    L_SHAPE,
    ROWS,
    SIZE,
    mask_by_definition,
    straight_placement,
    tilted_placement,
)

REFERENCE = Path(__file__).parents[1] / "reference"
LENS = Optics(focal_px=220.0, distortion=(-0.2, 0.06, 0.001, -0.001, 0.0))


def full(where: object) -> np.ndarray:
    mask = np.zeros((ROWS, COLUMNS), dtype=bool)
    mask[where.slices] = where.mask
    return mask


def grid_placement(rows: int, columns: int) -> Placement:
    """The cells of a grid of unit cells, y up from its lower edge, become pixels."""
    matrix = np.array([[1.0, 0.0, -0.5], [0.0, -1.0, rows - 0.5], [0.0, 0.0, 1.0]])
    return Placement(matrix, "front", Optics(), (columns, rows), "corners", 0.0, 0.0, 4)


def coverage_rows() -> list[dict[str, str]]:
    lines = (REFERENCE / "pixel_coverage.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("row", coverage_rows(), ids=lambda row: row["case"])
def test_published_coverage_by_the_centre_rule(row: dict[str, str]) -> None:
    pairs = re.findall(r"\(([^)]*)\)", row["polygon"])
    vertices = np.array([[float(number) for number in pair.split()] for pair in pairs])
    # The published rule leaves centres on the border out, ours takes them in: a hair narrower, the two agree.
    narrower = vertices + 1e-4 * (vertices.mean(axis=0) - vertices)
    where = zone_pixels(Polygon(tuple(map(tuple, narrower.tolist()))), (), grid_placement(3, 4))
    values = np.arange(1.0, 13.0).reshape(3, 4)[where.slices][where.mask]
    assert len(values) == int(row["cells_centre_rule"])
    assert values.mean() == float(row["mean_centre_rule"])
    assert values.max() == float(row["max_centre_rule"])


def test_centres_on_the_border_of_a_published_case_belong() -> None:
    where = zone_pixels(rectangle(0.25, 0.5, 2.25, 1.75), (), grid_placement(3, 4))
    values = np.arange(1.0, 13.0).reshape(3, 4)[where.slices][where.mask]
    # Strictly inside lie cells 5 and 6 alone.
    assert values.tolist() == [5.0, 6.0, 7.0, 9.0, 10.0, 11.0]


@pytest.mark.parametrize("zone", BOARD.zones_of("front"), ids=lambda zone: zone.id)
def test_pixels_follow_the_rule(zone: Zone) -> None:
    for placement in (straight_placement(), tilted_placement()):
        where = zone_pixels(zone.shape, zone.exclude, placement)
        assert np.array_equal(full(where), mask_by_definition(zone, placement))
        assert where.in_frame == "wholly"
        assert where.mask.any()
        assert not where.mask.flags.writeable


def test_elsewhere_is_the_outline_less_all_zones_and_their_excluded_parts() -> None:
    for placement in (straight_placement(), tilted_placement()):
        geometry = geometry_of(BOARD, placement)
        zones = BOARD.zones_of("front")
        wanted = mask_by_definition(Zone("o", BOARD.outline), placement, zones)
        assert np.array_equal(full(geometry.elsewhere), wanted)
        assert len(geometry.all) == len(zones) + 1


def test_border_pixels_belong() -> None:
    where = zone_pixels(rectangle(10, 10, 20, 5), (), straight_placement(1.0, 0.0, 100.0))
    assert int(where.mask.sum()) == 21 * 6
    assert where.box[0] <= 85
    # A border shared by two zones belongs to both.
    left, right = (zone_pixels(rectangle(x, 10, 10, 5), (), straight_placement(1.0, 0.0, 100.0)) for x in (10, 20))
    assert int((full(left) & full(right)).sum()) == 6
    # An excluded part takes its border with it.
    ringed = zone_pixels(rectangle(10, 10, 20, 10), (rectangle(15, 12, 4, 4),), straight_placement(1.0, 0.0, 100.0))
    assert int(ringed.mask.sum()) == 21 * 11 - 25


shapes = st.one_of(
    st.tuples(st.floats(-30, 120), st.floats(-30, 100), st.floats(0.2, 90), st.floats(0.2, 90)).map(
        lambda box: rectangle(*box)
    ),
    st.tuples(st.floats(-10, 120), st.floats(-10, 100), st.floats(0.2, 40)).map(lambda disc: Circle(*disc)),
    st.tuples(st.floats(-30, 60), st.floats(-30, 40), st.floats(0.05, 2.0)).map(
        lambda p: Polygon(tuple((p[0] + (x - 60) * p[2], p[1] + (y - 12) * p[2]) for x, y in L_SHAPE.vertices_mm))
    ),
    st.tuples(st.floats(0, 110), st.floats(0, 90), st.integers(3, 9), st.floats(0.5, 40), st.floats(0, 6.3)).map(
        lambda p: Polygon(
            tuple(
                (
                    p[0] + p[3] * (0.45 + 0.55 * (k % 2)) * float(np.cos(p[4] + 2 * np.pi * k / p[2])),
                    p[1] + p[3] * (0.45 + 0.55 * (k % 2)) * float(np.sin(p[4] + 2 * np.pi * k / p[2])),
                )
                for k in range(p[2])
            )
        )
    ),
)


@given(shape=shapes, lens=st.booleans())
def test_drawing_gives_what_testing_every_pixel_gives(shape: Shape, lens: bool) -> None:
    placement = tilted_placement(optics=LENS if lens else None)
    whole = (0, ROWS, 0, COLUMNS)
    slowly = inside_one_by_one(shape, placement, whole)
    assert np.array_equal(inside(shape, placement, whole), slowly)
    assert np.array_equal(full(zone_pixels(shape, (), placement)), slowly)


def test_a_shape_across_the_horizon_is_tested_pixel_by_pixel() -> None:
    matrix = np.array([[1.0, 0.0, 20.0], [0.0, -1.0, 120.0], [0.0, 0.01, 1.0]])
    placement = Placement(matrix, "front", Optics(), SIZE, "corners", 0.0, 0.0, 4)
    shape = rectangle(-50, -140, 160, 230)
    where = zone_pixels(shape, (), placement)
    assert np.array_equal(full(where), inside_one_by_one(shape, placement, (0, ROWS, 0, COLUMNS)))
    assert where.mask.any()
    assert where.in_frame == "partly"
    assert np.isnan(where.across_px)


@given(shape=shapes)
def test_pixel_counts_keep_to_the_exact_coverage(shape: Shape) -> None:
    placement = straight_placement()
    outline = shapely.Polygon(border_px(shape, placement))
    frame = shapely.box(-0.5, -0.5, COLUMNS - 0.5, ROWS - 0.5)
    area = outline.intersection(frame).area
    count = int(zone_pixels(shape, (), placement).mask.sum())
    # A region and the pixels whose centres it holds differ by pixels its border runs through only.
    assert abs(count - area) <= 1.0 + 1.5 * outline.length


@pytest.mark.parametrize("zone", BOARD.zones_of("front"), ids=lambda zone: zone.id)
def test_mean_keeps_to_the_coverage_weighted_mean(zone: Zone) -> None:
    placement = tilted_placement()
    where = zone_pixels(zone.shape, (), placement)
    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    values = 40.0 + 0.1 * x + 0.13 * y
    # exactextract counts y upwards from the raster's lower edge.
    ring = border_px(zone.shape, placement)
    polygon = shapely.Polygon(np.column_stack([ring[:, 0] + 0.5, ROWS - 0.5 - ring[:, 1]]))
    raster = NumPyRasterSource(values, xmin=0, ymin=0, xmax=COLUMNS, ymax=ROWS)
    feature = {"type": "Feature", "properties": {}, "geometry": shapely.geometry.mapping(polygon)}
    exact = exact_extract(raster, [feature], ["mean", "count", "max"])[0]["properties"]
    ours = values[full(where)]
    assert ours.size == pytest.approx(exact["count"], rel=0.03)
    assert ours.mean() == pytest.approx(exact["mean"], abs=0.03)
    # Every pixel the zone touches is asked for the maximum there, only those it holds the centre of here.
    assert exact["max"] - 0.24 <= ours.max() <= exact["max"]


@pytest.mark.parametrize(
    ("shape", "exclude", "mm"),
    [
        (rectangle(5, 5, 30, 12), (), 12.0),
        (rectangle(5, 5, 3, 60), (), 3.0),
        (Circle(50, 40, 7.5), (), 15.0),
        # In the L's corner: touching the two outer edges and the inner corner, (14 - r) sqrt 2 = r for equal arms.
        (Polygon(((0, 0), (40, 0), (40, 14), (14, 14), (14, 40), (0, 40))), (), 2 * 14 * np.sqrt(2) / (1 + np.sqrt(2))),
        # 3-4-5 triangle: inradius 1 per 12 of perimeter and 6 of area.
        (Polygon(((0, 0), (40, 0), (0, 30))), (), 20.0),
        # Square of 30 with a disc of radius 5 in its middle: in a corner between two edges and the disc.
        (rectangle(10, 10, 30, 30), (Circle(25, 25, 5),), 2 * (15 * np.sqrt(2) - 5) / (1 + np.sqrt(2))),
        # A hole through the middle leaves two strips.
        (rectangle(10, 10, 30, 20), (rectangle(22, 5, 6, 30),), 12.0),
        (rectangle(10, 10, 10, 10), (rectangle(0, 0, 50, 50),), 0.0),
    ],
    ids=["wide", "narrow", "disc", "ell", "triangle", "ring", "two strips", "nothing left"],
)
@pytest.mark.parametrize("scale", [0.2, 1.4])
def test_across_is_the_largest_inscribed_circle(
    shape: Shape, exclude: tuple[Shape, ...], mm: float, scale: float
) -> None:
    placement = straight_placement(scale)
    assert zone_pixels(shape, exclude, placement).across_px == pytest.approx(scale * mm, abs=0.11)


def test_across_of_plain_shapes_is_exact() -> None:
    placement = straight_placement()
    assert zone_pixels(rectangle(5, 5, 30, 12), (), placement).across_px == pytest.approx(16.8, abs=1e-6)
    assert zone_pixels(Circle(50, 40, 7.5), (), placement).across_px == pytest.approx(21.0, abs=1e-6)


@given(shape=shapes)
def test_across_fits_and_is_the_largest(shape: Shape) -> None:
    placement = tilted_placement()
    outline = shapely.Polygon(border_px(shape, placement))
    ours = zone_pixels(shape, (), placement).across_px
    best = 2.0 * shapely.maximum_inscribed_circle(outline, tolerance=0.005).length
    assert ours == pytest.approx(best, abs=0.13)


@given(shape=shapes)
def test_across_hardly_changes_under_a_weak_lens(shape: Shape) -> None:
    weak = Optics(focal_px=220.0, distortion=(1e-6, 0.0, 0.0, 0.0, 0.0))
    bare, bent = (zone_pixels(shape, (), tilted_placement(optics=lens)) for lens in (None, weak))
    assert bent.across_px == pytest.approx(bare.across_px, abs=0.13)


def test_zones_beyond_the_frame() -> None:
    placement = straight_placement()
    cut = zone_pixels(rectangle(100, 40, 60, 10), (), placement)
    assert cut.in_frame == "partly"
    assert cut.across_px == pytest.approx(14.0)
    gone = zone_pixels(rectangle(150, 40, 10, 10), (), placement)
    assert gone.in_frame == "not"
    assert not gone.mask.any()
    around = zone_pixels(rectangle(-500, -500, 1500, 1500), (), placement)
    assert around.in_frame == "partly"
    assert around.mask.all()
    assert around.mask.shape == (ROWS, COLUMNS)
    tiny = zone_pixels(rectangle(10.1, 10.1, 0.1, 0.1), (), placement)
    assert tiny.in_frame == "wholly"
    assert not tiny.mask.any()
    assert tiny.across_px == pytest.approx(0.14)


def test_the_frames_edge_is_half_a_pixel_beyond_the_centres() -> None:
    placement = straight_placement(1.0, 0.0, ROWS - 1.0)
    whole = rectangle(-0.5, -0.5, COLUMNS, ROWS)
    assert zone_pixels(whole, (), placement).in_frame == "wholly"
    assert zone_pixels(whole, (), placement).mask.sum() == ROWS * COLUMNS
    assert zone_pixels(rectangle(-0.6, -0.5, COLUMNS, ROWS), (), placement).in_frame == "partly"


def test_elsewhere_without_zones_is_the_board() -> None:
    placement = straight_placement()
    geometry = geometry_of(Board("bare", rectangle(0, 0, 110, 90)), placement)
    assert geometry.zones == ()
    # 90 mm at 1.4 px a mm; the distance transform is good to a pixel.
    assert geometry.elsewhere.across_px == pytest.approx(126.0, abs=1.5)


def test_geometry_is_kept_for_the_frames_of_a_view() -> None:
    placement = tilted_placement()
    assert geometry_of(BOARD, placement) is geometry_of(BOARD, placement)


def test_frames_of_another_size_are_refused() -> None:
    with pytest.raises(PlacementRefused, match=r"found 131 x 173 px; wanted 173 x 131 px") as refused:
        check_shape((COLUMNS, ROWS), tilted_placement(), "turned.tiff")
    assert refused.value.cause == "size"
    assert refused.value.file == "turned.tiff"
