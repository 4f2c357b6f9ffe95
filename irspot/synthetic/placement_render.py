"""Frames of boards for placing, rendered fast: half-pixel samples, the outline's coverage exact, then blur and means.

The board's plane is a picture in mm that is looked up through the view. The outline alone needs exactness, since
placements are judged by it: samples it crosses are divided further, each part asked whether it lies on the board.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2
from irspot.shapes import Polygon, following
from irspot.synthetic.placement_content import Block, Content, board_heat, smooth_field
from irspot.synthetic.placement_views import BoardView

FloatArray = NDArray[np.float64]
Image = NDArray[np.float32]

SUPERSAMPLE: Final = 2
PARTS: Final = 4
"""Parts of a sample the outline crosses, along each axis: eighths of a pixel."""
_MAP_STEP: Final = 8
_SHIFT: Final = 4


def to_samples(xy_px: FloatArray) -> FloatArray:
    """Carry pixel places to sample places."""
    return np.asarray((xy_px + 0.5) * SUPERSAMPLE - 0.5)


def sample_shape(view: BoardView) -> tuple[int, int]:
    """Rows and columns of samples."""
    return view.size_px[1] * SUPERSAMPLE, view.size_px[0] * SUPERSAMPLE


def outline_coverage(view: BoardView, outline: Polygon) -> Image:
    """Share of every sample that the outline covers.

    Returns
    -------
    ndarray, shape (rows * SUPERSAMPLE, columns * SUPERSAMPLE)
        0 to 1.
    """
    cv2 = load_cv2()
    border = to_samples(view.to_px(outline.border_points(4.0)))
    fixed = np.rint(border * (1 << _SHIFT)).astype(np.int32)
    inside = np.zeros(sample_shape(view), np.uint8)
    cv2.fillPoly(inside, [fixed], 1, shift=_SHIFT)
    crossed = np.zeros_like(inside)
    cv2.polylines(crossed, [fixed], True, 1, 3, shift=_SHIFT)
    coverage = inside.astype(np.float32)
    places = cv2.findNonZero(crossed)
    if places is not None:
        # One version of OpenCV gives (n, 1, 2), another (n, 2).
        columns, rows = places.reshape(-1, 2).T
        coverage[rows, columns] = _exact_coverage(view, outline, places.reshape(-1, 2).astype(np.float64))
    return coverage


def _exact_coverage(view: BoardView, outline: Polygon, samples: FloatArray) -> Image:
    """Coverage of single samples, from the places of their parts on the board."""
    centre_px = (samples + 0.5) / SUPERSAMPLE - 0.5
    half = 0.5 / SUPERSAMPLE
    steps = np.array([[0.0, 0.0], [half, 0.0], [-half, 0.0], [0.0, half], [0.0, -half]])
    centre, right, left, below, above = np.moveaxis(view.to_mm(centre_px[:, None] + steps), 1, 0)
    # Across one sample a view is straight to a millionth of a pixel.
    across, down = right - left, below - above
    parts = (np.arange(PARTS) + 0.5) / PARTS - 0.5
    offset_x, offset_y = (grid.ravel() for grid in np.meshgrid(parts, parts))
    x = centre[:, :1] + across[:, :1] * offset_x + down[:, :1] * offset_y
    y = centre[:, 1:] + across[:, 1:] * offset_x + down[:, 1:] * offset_y
    return np.asarray(_inside(outline.array_mm, x, y).mean(axis=1), np.float32)


def _inside(vertices: FloatArray, x: FloatArray, y: FloatArray) -> NDArray[np.bool_]:
    """Even-odd rule without a thought for borders, which parts of samples meet by chance only."""
    inside = np.zeros(x.shape, bool)
    for (x0, y0), (x1, y1) in zip(vertices.tolist(), following(vertices).tolist(), strict=True):
        if y0 != y1:
            inside ^= ((y0 > y) != (y1 > y)) & (x < x0 + (x1 - x0) / (y1 - y0) * (y - y0))
    return inside


def board_image(view: BoardView, content: Content, outline: Polygon) -> Image:
    """Temperature of the board's plane at every sample, as if the board went on beyond its outline."""
    cv2 = load_cv2()
    x0, y0, x1, y1 = outline.box_mm
    box = np.array([[x0 - 12.0, y0 - 12.0], [x1 + 12.0, y1 + 12.0]])
    sizes_px = np.hypot(*np.ptp(view.to_px(outline.array_mm), axis=0)), np.hypot(x1 - x0, y1 - y0)
    mm_per_texel = float(np.clip(sizes_px[1] / sizes_px[0] / SUPERSAMPLE, 0.4, 2.0))
    heat = board_heat(content, box, mm_per_texel)
    texels = _texels(view, box[0], mm_per_texel)
    seen = cv2.remap(heat, texels, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(seen, np.float32)


def _texels(view: BoardView, corner_mm: FloatArray, mm_per_texel: float) -> Image:
    """Texel of every sample, shape (..., 2): exact on a coarse grid, linear between: enough for heat."""
    cv2 = load_cv2()
    rows, columns = sample_shape(view)
    # One coarse cell more on every side, so that nothing is extrapolated.
    xs, ys = (
        np.arange(-1, -(-count // _MAP_STEP) + 1) * _MAP_STEP + (_MAP_STEP - 1) / 2.0 for count in (columns, rows)
    )
    grid = (np.stack(np.meshgrid(xs, ys), axis=-1) + 0.5) / SUPERSAMPLE - 0.5
    coarse = ((view.to_mm(grid) - corner_mm) / mm_per_texel).astype(np.float32)
    size = (len(xs) * _MAP_STEP, len(ys) * _MAP_STEP)
    fine = cv2.resize(coarse, size, interpolation=cv2.INTER_LINEAR)
    return np.asarray(fine[_MAP_STEP : _MAP_STEP + rows, _MAP_STEP : _MAP_STEP + columns], np.float32)


def background_image(view: BoardView, content: Content, centre_px: FloatArray) -> Image:
    """Temperature behind the board: a level with a gradient, and where wanted a plate behind one half."""
    rows, columns = sample_shape(view)
    image = smooth_field((columns, rows), content.background_degc, content.background_k)
    if content.plate_k:
        towards = np.array([np.cos(np.deg2rad(content.plate_deg)), np.sin(np.deg2rad(content.plate_deg))])
        along = np.array([-towards[1], towards[0]])
        reach = float(np.hypot(*view.size_px))
        corners = [(0.0, -reach), (reach, -reach), (reach, reach), (0.0, reach)]
        plate = np.array([centre_px + towards * a + along * b for a, b in corners])
        lay(image, plate, content.background_degc + content.plate_k)
    return image


def lay(image: Image, polygon_px: FloatArray, degc: float, cover: Image | None = None) -> None:
    """Lay an even thing over an image of samples, in place; `cover` remembers where."""
    cv2 = load_cv2()
    fixed = to_samples(polygon_px)
    low = np.clip(np.floor(fixed.min(axis=0)).astype(int) - 2, 0, None)
    high = np.minimum(np.ceil(fixed.max(axis=0)).astype(int) + 3, image.shape[::-1])
    if np.any(high <= low):
        return
    share = np.zeros((high[1] - low[1], high[0] - low[0]), np.uint8)
    cv2.fillPoly(share, [np.rint((fixed - low) * (1 << _SHIFT)).astype(np.int32)], 255, cv2.LINE_AA, _SHIFT)
    weight = share * np.float32(1.0 / 255.0)
    piece = image[low[1] : high[1], low[0] : high[0]]
    piece += (np.float32(degc) - piece) * weight
    if cover is not None:
        covered = cover[low[1] : high[1], low[0] : high[0]]
        np.maximum(covered, weight, out=covered)


def block_shadow(view: BoardView, block: Block) -> FloatArray:
    """Convex hull in the image of a body that stands on the board, shape (n, 2)."""
    cv2 = load_cv2()
    x1, y1 = block.x_mm + block.width_mm, block.y_mm + block.depth_mm
    foot = np.array([[block.x_mm, block.y_mm], [x1, block.y_mm], [x1, y1], [block.x_mm, y1]])
    corners = np.concatenate([view.to_px(foot), view.to_px(foot, block.height_mm)])
    return np.asarray(cv2.convexHull(corners.astype(np.float32)).reshape(-1, 2), np.float64)


def sensed(samples: Image, blur_px: float, noise_k: float, random: np.random.Generator) -> Image:
    """Blur, average over each pixel, add noise."""
    cv2 = load_cv2()
    blurred = cv2.GaussianBlur(samples, (0, 0), blur_px * SUPERSAMPLE, borderType=cv2.BORDER_REPLICATE)
    size = (samples.shape[1] // SUPERSAMPLE, samples.shape[0] // SUPERSAMPLE)
    means = cv2.resize(blurred, size, interpolation=cv2.INTER_AREA)
    if noise_k:
        means += np.float32(noise_k) * random.standard_normal(means.shape, dtype=np.float32)
    return np.asarray(means, np.float32)
