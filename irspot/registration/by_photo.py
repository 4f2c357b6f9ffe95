"""Where the board is in a thermal frame, by a photo of the same view in which it is placed already.

For frames in which the outline does not stand out while the parts do. The photo is warped onto the frame and compared
with it in squares, by the way edges run; each square says how far off it is. The mapping follows by least squares from
those that agree, in steps of shorter reach. Enough squares all over the board have to agree, or placing is refused.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NoReturn

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.frame import Frame
from irspot.opencv import load_cv2
from irspot.photo import Photo
from irspot.placing import ImageSide
from irspot.registration import homography
from irspot.registration.distortion import undistort
from irspot.registration.edge_field import C64, edge_field
from irspot.registration.edge_map import without_gaps
from irspot.registration.photo_search import fits
from irspot.registration.placement import Placement
from irspot.registration.rigid import camera_matrix, mapping_of, mapping_slopes, nearest_view
from irspot.registration.spread import point_u_px
from irspot.registration.way_round import IMAGE_SIDES, top_direction

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]
Bool = NDArray[np.bool_]

_TRIED: Final = 4
_SIGMA_PX: Final = 1.2
_STEPS: Final = (
    (0.26, 0.080, 9.0, 10),
    (0.22, 0.050, 6.0, 12),
    (0.18, 0.030, 3.5, 20),
    (0.16, 0.025, 2.5, 24),
    (0.16, 0.025, 2.5, 24),
)
"""Side of the squares, and how far off they are sought, against the board's shorter and longer side in the frame; how
far in px those that agree may be from the mapping they share; and how many have to."""
_LEAST_SIDE_PX: Final = 24
_LEAST_REACH_PX: Final = 8
_WITHIN: Final = 0.8
"""Share of a square that is board at least."""
_LEAST_AGREEING: Final = 0.28
_FEWEST_IN_QUARTER: Final = 4
_LEAST_PEAK: Final = 0.1
_OVERLAPPING: Final = 4.0
"""So many squares overlap at each place: their errors are not independent."""
_STIFF_STEPS: Final = 4
_WILD: Final = 4.0
"""Corners further out than so many lengths of the frame are those of a fit that failed."""
_MOST_RESIDUAL_PX: Final = 2.0
_MOST_U_PX: Final = 1.4
_HINT: Final = (
    "take the photo from beside the thermal camera, with the board warm enough for its parts to show, "
    "or give corners_px"
)


@dataclass(frozen=True, slots=True, eq=False)
class _Squares:
    """Squares of a frame: their middles, where the photo's content for them was found, and how well it fits."""

    at_px: FloatArray
    found_px: FloatArray
    peak: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    """A mapping with the squares that hold it, px of the undistorted frame."""

    matrix: FloatArray
    xy_mm: FloatArray
    share: float
    residual_px: float


def turn_of(placed: Placement, board: Board, top: ImageSide | None) -> float:
    """Say how far a frame shows a board turned against a photo, clockwise, in degrees: a multiple of 90.

    Parameters
    ----------
    placed : Placement
        Of the board in the photo.
    board : Board
    top : {"up", "right", "down", "left"} or None
        Side of the frame that the board's top edge faces; None where it is that of the photo.
    """
    if top is None:
        return 0.0
    (x, y) = top_direction(placed.matrix[None], board.outline.array_mm)[0]
    right, down = IMAGE_SIDES[top]
    # Clockwise as seen, y pointing down: from the photo's direction to the frame's.
    turn = np.rad2deg(np.arctan2(x * down - y * right, x * right + y * down))
    return float(90.0 * round(turn / 90.0) % 360.0)


def place_by_photo(
    degc: F32,
    board: Board,
    optics: Optics,
    photo: Photo,
    placed: Placement,
    *,
    turn_deg: float = 0.0,
    file: str = "",
) -> Placement:
    """Place a board in a frame by a photo.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        NaN where there is no temperature.
    board : Board
    optics : Optics
        Of the thermal camera.
    photo : Photo
        From about the same place.
    placed : Placement
        Of the board in the photo.
    turn_deg : float
        How far the frame shows the board turned against the photo, clockwise: a multiple of 90.
    file : str
        Named in refusals.

    Returns
    -------
    Placement
        Of method ``photo``, with the covariance that the squares' scatter and the photo's own placement give.

    Raises
    ------
    PlacementRefused
        With cause ``content``, ``residual`` or ``two``.
    """
    whole = without_gaps(degc)
    if not np.isfinite(whole).all() or float(np.ptp(whole)) == 0.0:
        _refuse(file, "the frame shows nothing", "content")
    size_px = (degc.shape[1], degc.shape[0])
    corners_px = placed.to_px(board.outline.array_mm)
    grey = np.asarray(load_cv2().cvtColor(photo.rgb, load_cv2().COLOR_RGB2GRAY), np.float32)
    starts = fits(whole, grey, corners_px, turn_deg, _TRIED)
    edges = edge_field(whole, _SIGMA_PX)
    held = []
    for start in starts:
        on_frame = corners_px @ start.matrix[:, :2].T + start.matrix[:, 2]
        matrix = homography.fit(board.outline.array_mm, on_frame)
        found = _refined(_Scene(edges, grey, board, placed, optics, size_px), matrix)
        if found is not None:
            held.append(found)
            if found.share >= _LEAST_AGREEING:
                break
    best = _judged(held, board, file)
    return _placement(best, board, placed, optics, size_px, file)


def place_frame_by(
    frame: Frame, board: Board, photo: Photo, placed: Placement, *, top: ImageSide | None = None
) -> Placement:
    """Place a board in a frame by a photo; see `place_by_photo`.

    Parameters
    ----------
    frame : Frame
    board : Board
    photo : Photo
    placed : Placement
    top : {"up", "right", "down", "left"}, optional
        Side of the frame that the board's top edge faces; that of the photo where not given.
    """
    from irspot.radiometry import radiance_temperature

    turn_deg, optics = turn_of(placed, board, top), frame.camera.optics
    return place_by_photo(radiance_temperature(frame), board, optics, photo, placed, turn_deg=turn_deg, file=frame.name)


@dataclass(frozen=True, slots=True, eq=False)
class _Scene:
    edges: C64
    grey: F32
    board: Board
    placed: Placement
    optics: Optics
    size_px: tuple[int, int]

    def placement(self, matrix: FloatArray) -> Placement:
        return Placement(matrix, self.placed.side, self.optics, self.size_px, "photo", 0.0, 0.0, 0)


def _refined(scene: _Scene, matrix: FloatArray) -> _Held | None:
    """Move a mapping until squares all over the board agree with it; None where too few do."""
    held = None
    for side_share, reach_share, close_px, fewest in _STEPS:
        placement = scene.placement(matrix)
        outline = placement.to_px(scene.board.outline.array_mm)
        if not np.isfinite(outline).all() or np.abs(outline).max() > _WILD * max(scene.size_px):
            return None
        extent = np.ptp(outline, axis=0)
        side = max(_LEAST_SIDE_PX, int(side_share * extent.min()))
        reach = max(_LEAST_REACH_PX, int(reach_share * extent.max()))
        squares = _compared(scene, placement, outline, side, reach)
        held = _fitted(scene, placement, squares, close_px, fewest)
        if held is None:
            return None
        matrix = held.matrix
    return held


def _compared(scene: _Scene, placement: Placement, outline: FloatArray, side: int, reach: int) -> _Squares:
    """Warp the photo onto the frame and seek each square's content around it."""
    cv2 = load_cv2()
    columns, rows = scene.size_px
    shown = edge_field(_warped(scene, placement), _SIGMA_PX)
    within = np.zeros((rows, columns), np.uint8)
    cv2.fillPoly(within, [np.rint(outline).astype(np.int32)], 1)
    at, found, peaks = [], [], []
    for y in range(reach, rows - side - reach, max(1, side // 2)):
        for x in range(reach, columns - side - reach, max(1, side // 2)):
            if within[y : y + side, x : x + side].mean() < _WITHIN:
                continue
            alike = _alike(shown[y : y + side, x : x + side], scene.edges, x, y, reach)
            dx, dy, peak = _peak(alike)
            middle = (x + (side - 1) / 2.0, y + (side - 1) / 2.0)
            at.append(middle)
            found.append((middle[0] + dx - reach, middle[1] + dy - reach))
            peaks.append(peak)
    return _Squares(np.array(at).reshape(-1, 2), np.array(found).reshape(-1, 2), np.array(peaks))


def _warped(scene: _Scene, placement: Placement) -> F32:
    """Give the photo as the frame would see it, were the board flat."""
    cv2 = load_cv2()
    columns, rows = scene.size_px
    x, y = np.meshgrid(np.arange(0.0, columns + 7.0, 8.0), np.arange(0.0, rows + 7.0, 8.0))
    nodes = scene.placed.to_px(placement.to_mm(np.column_stack([x.ravel(), y.ravel()])))
    places = np.where(np.isfinite(nodes), nodes, -1e6).astype(np.float32).reshape(*x.shape, 2)
    where_x, where_y = np.meshgrid(np.arange(columns) / 8.0, np.arange(rows) / 8.0)
    maps = cv2.remap(places, where_x.astype(np.float32), where_y.astype(np.float32), cv2.INTER_LINEAR)
    row, column = x.shape[0] // 2, x.shape[1] // 2
    per_px = float(np.hypot(*(places[row, column] - places[row, column - 1]))) / 8.0
    width = min(max(1, round(per_px)), max(scene.grey.shape) // 10)
    soft = cv2.blur(scene.grey, (width, width))
    shown = cv2.remap(soft, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(shown, np.float32)


def _alike(square: C64, edges: C64, x: int, y: int, reach: int) -> F32:
    """How well a square agrees with a frame at every shift, -1 to 1, shape (2 reach + 1, 2 reach + 1)."""
    cv2 = load_cv2()
    side = square.shape[0]
    around = edges[y - reach : y + side + reach, x - reach : x + side + reach]
    alike = np.zeros((2 * reach + 1, 2 * reach + 1), np.float32)
    for part in (np.real, np.imag):
        pair = np.ascontiguousarray(part(around)), np.ascontiguousarray(part(square))
        alike += cv2.matchTemplate(*pair, cv2.TM_CCORR)
    total = cv2.integral(np.abs(around) ** 2)
    energy = total[side:, side:] - total[:-side, side:] - total[side:, :-side] + total[:-side, :-side]
    own = float(np.sum(np.abs(square) ** 2))
    return np.asarray(alike / np.sqrt(np.maximum(energy * own, 1e-6)), np.float32)


def _peak(alike: F32) -> tuple[float, float, float]:
    """Place of the maximum, to a part of a pixel by a parabola along each axis, and its height."""
    y, x = (int(place) for place in np.unravel_index(int(np.argmax(alike)), alike.shape))
    return x + _vertex(alike[y], x), y + _vertex(alike[:, x], y), float(alike[y, x])


def _vertex(line: F32, at: int) -> float:
    if not 0 < at < len(line) - 1:
        return 0.0
    before, here, after = (float(value) for value in line[at - 1 : at + 2])
    bend = before - 2.0 * here + after
    return 0.0 if bend >= 0.0 else float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5))


def _fitted(scene: _Scene, placement: Placement, squares: _Squares, close_px: float, fewest: int) -> _Held | None:
    """Find the mapping that most squares share, and fit it to those."""
    cv2 = load_cv2()
    good = squares.peak > _LEAST_PEAK
    if good.sum() < fewest:
        return None
    xy_mm = placement.to_mm(squares.at_px[good])
    straight = undistort(squares.found_px[good], scene.optics, scene.size_px)
    _, agree = cv2.findHomography(xy_mm, straight, cv2.RANSAC, close_px, maxIters=2000, confidence=0.999)
    if agree is None or agree.sum() < fewest:
        return None
    held = agree.ravel().astype(bool)
    matrix = _shared(xy_mm[held], straight[held], scene)
    if matrix is None:
        return None
    left = straight[held] - homography.apply(matrix, xy_mm[held])
    residual = float(np.sqrt(np.mean(np.sum(left**2, axis=1))))
    return _Held(matrix, xy_mm[held], float(held.sum() / len(squares.peak)), residual)


def _shared(xy_mm: FloatArray, xy_px: FloatArray, scene: _Scene) -> FloatArray | None:
    """Fit a mapping to squares; that of a stiff board where the focal length is known."""
    try:
        matrix = homography.fit(xy_mm, xy_px)
    except PlacementRefused:
        return None
    camera = camera_matrix(scene.optics, scene.size_px)
    if camera is None:
        return matrix
    view = nearest_view(matrix, camera)
    for _ in range(_STIFF_STEPS):
        mapping = mapping_of(view, camera)
        slopes = homography.slopes(mapping, xy_mm) @ mapping_slopes(view, camera)
        left = (xy_px - homography.apply(mapping, xy_mm)).ravel()
        if not (np.isfinite(left).all() and np.isfinite(slopes).all()):
            return None
        size = np.maximum(np.sqrt(np.sum(slopes**2, axis=0)), 1e-12)
        view = view + np.linalg.lstsq(slopes / size, left, rcond=None)[0] / size
    return mapping_of(view, camera)


def _judged(held: list[_Held], board: Board, file: str) -> _Held:
    """Take the mapping most squares agree with, if enough of them do all over the board and no other comes near."""
    if not held:
        _refuse(file, "the photo's content does not show in the frame", "content")
    best = max(held, key=lambda each: each.share)
    if best.share < _LEAST_AGREEING:
        found = f"{100.0 * best.share:.0f} % of its squares agree"
        _refuse(file, "too little of the photo's content shows in the frame", "content", found=found)
    x0, y0, x1, y1 = board.outline.box_mm
    right, upper = best.xy_mm[:, 0] > (x0 + x1) / 2.0, best.xy_mm[:, 1] > (y0 + y1) / 2.0
    if min(np.count_nonzero((right == a) & (upper == b)) for a in (0, 1) for b in (0, 1)) < _FEWEST_IN_QUARTER:
        _refuse(file, "a quarter of the board shows too little of the photo's content in the frame", "content")
    if best.residual_px > _MOST_RESIDUAL_PX:
        found = f"{best.residual_px:.1f} px"
        _refuse(file, "photo and frame do not agree: the cameras stood too far apart", "residual", found=found)
    return best


def _placement(
    best: _Held, board: Board, placed: Placement, optics: Optics, size_px: tuple[int, int], file: str
) -> Placement:
    outline = board.outline.array_mm
    matrix = best.matrix
    matrix.flags.writeable = False
    per_mm, photo_per_mm = (float(np.sqrt(abs(np.linalg.det(each[:2, :2])))) for each in (matrix, placed.matrix))
    u_photo_px = point_u_px(placed) * per_mm / photo_per_mm
    covariance = _covariance(best, optics, size_px)
    corner = homography.slopes(matrix, outline)
    u_corner = float(np.sqrt(np.max(np.einsum("ij,jk,ik->i", corner, covariance, corner))))
    if u_corner > _MOST_U_PX:
        _refuse(file, "the photo's content hardly holds the board's corners", "content", found=f"u = {u_corner:.1f} px")
    covariance = covariance + homography.covariance(matrix, outline) * u_photo_px**2
    return Placement(
        matrix,
        placed.side,
        optics,
        size_px,
        "photo",
        best.residual_px,
        best.residual_px / max(per_mm, 1e-9),
        len(best.xy_mm),
        u_photo_px,
        held_mm=outline,
        covariance=covariance,
    )


def _covariance(best: _Held, optics: Optics, size_px: tuple[int, int]) -> FloatArray:
    """Covariance of a mapping's first eight entries by the scatter of the squares, overlapping ones counting once."""
    variance = _OVERLAPPING * best.residual_px**2 / 2.0
    slopes = homography.slopes(best.matrix, best.xy_mm)
    camera = camera_matrix(optics, size_px)
    change = np.eye(8) if camera is None else mapping_slopes(nearest_view(best.matrix, camera), camera)
    slopes = slopes @ change
    size = np.maximum(np.sqrt(np.sum(slopes**2, axis=0)), 1e-12)
    inner = np.linalg.inv((slopes / size).T @ (slopes / size)) / np.outer(size, size)
    return np.asarray(variance * change @ inner @ change.T)


def _refuse(file: str, message: str, cause: str, *, found: str = "") -> NoReturn:
    raise PlacementRefused(message, cause=cause, file=file, key="placement", found=found, hint=_HINT)
