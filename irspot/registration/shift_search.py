"""About how far, and which way, a board was moved and turned: its edges' directions sought again in a coarse frame.

Every pixel is given the doubled direction of its gradient as a complex number of size 1 where the gradient stands out,
so that neither a step's size nor its sign counts; two such fields are correlated over all shifts by Fourier transform,
for a few turns (after A. Fitch et al., "Orientation correlation", British Machine Vision Conference 2002, there with
undoubled directions).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2
from irspot.registration.edge_map import read

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]
Complex = NDArray[np.float32]
"""Two planes of one field, real and imaginary: shape (rows, columns, 2)."""

_SIZE_PX: Final = 160
"""Frames are searched at about this length of their longer side."""
TURNS_DEG: Final = tuple(np.arange(-15.0, 15.1, 2.5).tolist())
_STANDS_OUT: Final = 1.0
_NOISES: Final = 3.0
_AROUND_PX: Final = 11
_SOFT_PX: Final = 0.8
_PEAKS: Final = 4
_TUNED_BY: Final = 160
_TURNS_TUNED_DEG: Final = (-0.9, 0.0, 0.9)
_APART_PX: Final = 3


@dataclass(frozen=True, slots=True, eq=False)
class Sought:
    """A board's edges as they would look after each of `TURNS_DEG`, transformed.

    Parameters
    ----------
    scale : int
        Pixels of the frame a side of one pixel here.
    noise_k : float
        Of a pixel here.
    middle_px : ndarray, shape (2,)
        What it was turned about, in the frame.
    spectra : tuple of ndarray
        One a turn.
    """

    scale: int
    noise_k: float
    middle_px: FloatArray
    spectra: tuple[Complex, ...]


@dataclass(frozen=True, slots=True)
class Guess:
    """A shift (px of the frame, of the board's middle) and a turn (degrees, from x towards y), and how well it fits."""

    shift_px: tuple[float, float]
    turn_deg: float
    score: float


def sought(
    places_px: FloatArray, normals: FloatArray, middle_px: FloatArray, shape: tuple[int, int], noise_k: float
) -> Sought:
    """Prepare edges to be sought in later frames.

    Parameters
    ----------
    places_px, normals : ndarray, shape (n, 2)
    middle_px : ndarray, shape (2,)
    shape : tuple of int
        Rows and columns of the frame.
    noise_k : float
        Of a pixel of the frame.
    """
    scale = max(1, round(max(shape) / _SIZE_PX))
    spectra = []
    for turn in np.deg2rad(TURNS_DEG):
        spin = _spin(float(turn))
        places = (places_px - middle_px) @ spin.T + middle_px
        spectra.append(_spectrum(_drawn(places, normals @ spin.T, shape, scale)))
    return Sought(scale, noise_k / scale, middle_px, tuple(spectra))


def guesses(degc: F32, wanted: Sought, not_at_px: FloatArray) -> tuple[Guess, ...]:
    """Find the likeliest shifts and turns of a board in a frame.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Without gaps, of the size the edges were prepared for.
    wanted : Sought
    not_at_px : ndarray, shape (n, 2)
        Places whose edges are known to be something else's.

    Returns
    -------
    tuple of Guess
        The likeliest first.
    """
    cv2 = load_cv2()
    field = _directions(_reduced(degc, wanted.scale), wanted.noise_k)
    rows, columns = field.shape[:2]
    at = np.rint((not_at_px + 0.5) / wanted.scale - 0.5).astype(int)
    others = np.zeros((rows, columns), np.uint8)
    others[np.clip(at[:, 1], 0, rows - 1), np.clip(at[:, 0], 0, columns - 1)] = 1
    field[cv2.dilate(others, np.ones((3, 3), np.uint8)) > 0] = 0.0
    here = _spectrum(field)
    planes = []
    for spectrum in wanted.spectra:
        product = cv2.mulSpectrums(here, spectrum, 0, conjB=True)
        planes.append(cv2.dft(product, flags=cv2.DFT_INVERSE | cv2.DFT_SCALE | cv2.DFT_COMPLEX_OUTPUT)[..., 0])
    return tuple(_peaks(np.stack(planes), (rows, columns), wanted.scale))


def tuned(smooth: F32, places: FloatArray, normals: FloatArray, wanted: Sought, guess: Guess) -> Guess:
    """Shift and turn a guess a little, to where edges stand out most across its own.

    Parameters
    ----------
    smooth : ndarray of float32, shape (rows, columns)
        NaN where nothing can be seen.
    places, normals : ndarray, shape (n, 2)
        Of the edges, moved as the guess says.
    wanted : Sought
    guess : Guess
    """
    every = max(1, len(places) // _TUNED_BY)
    places, normals = places[::every], normals[::every]
    pivot = wanted.middle_px + np.array(guess.shift_px)
    grid = np.linspace(-0.75, 0.75, 5) * max(wanted.scale, 2)
    poses = [(turn, dx, dy) for turn in np.deg2rad(_TURNS_TUNED_DEG) for dx in grid for dy in grid]
    tried = np.concatenate([(places - pivot) @ _spin(turn).T + pivot + [dx, dy] for turn, dx, dy in poses])
    across = np.tile(normals, (len(poses), 1))
    ahead, behind = (read(smooth, *(tried + way * across).T) for way in (1.0, -1.0))
    slope = np.nan_to_num(np.abs(ahead - behind)).reshape(len(poses), -1)
    # Strong edges have no more say than others.
    score = (slope / (slope + np.median(slope) + 1e-9)).mean(axis=1)
    turn, dx, dy = poses[int(np.argmax(score))]
    shift = (guess.shift_px[0] + float(dx), guess.shift_px[1] + float(dy))
    return Guess(shift, guess.turn_deg + float(np.rad2deg(turn)), float(score.max()))


def _spin(turn: float) -> FloatArray:
    return np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])


def _reduced(degc: F32, scale: int) -> F32:
    if scale == 1:
        return degc
    rows, columns = degc.shape[0] // scale, degc.shape[1] // scale
    whole = degc[: rows * scale, : columns * scale]
    return np.asarray(load_cv2().resize(whole, (columns, rows), interpolation=load_cv2().INTER_AREA))


def _directions(degc: F32, noise_k: float) -> Complex:
    """Doubled directions of gradients, of size up to 1 where they stand out of noise and surroundings."""
    cv2 = load_cv2()
    gx = cv2.Sobel(degc, cv2.CV_32F, 1, 0, ksize=3, scale=0.125)
    gy = cv2.Sobel(degc, cv2.CV_32F, 0, 1, ksize=3, scale=0.125)
    square = gx * gx + gy * gy
    around = cv2.blur(np.sqrt(square), (_AROUND_PX, _AROUND_PX))
    # The noise of a Sobel gradient of these weights is √(12) / 8 of a pixel's.
    floor = (np.float32(_STANDS_OUT) * around + np.float32(_NOISES * 0.433 * noise_k)) ** 2 + np.float32(1e-12)
    # Over size to the fourth, so that what is weaker than its floor fades fast.
    weight = square / (square * square + floor * floor)
    return np.stack([(gx * gx - gy * gy) * weight, 2.0 * gx * gy * weight], axis=-1)


def _drawn(places_px: FloatArray, normals: FloatArray, shape: tuple[int, int], scale: int) -> Complex:
    """Draw edges as a field of doubled directions."""
    rows, columns = shape[0] // scale, shape[1] // scale
    field = np.zeros((rows, columns, 2), np.float32)
    at = np.rint((places_px + 0.5) / scale - 0.5).astype(int)
    inside = np.all((at >= 0) & (at < [columns, rows]), axis=1)
    x, y = normals[inside].T
    doubled = np.column_stack([x * x - y * y, 2.0 * x * y]).astype(np.float32)
    # Several edges in one pixel count once.
    field[at[inside, 1], at[inside, 0]] = doubled
    return np.asarray(load_cv2().GaussianBlur(field, (0, 0), _SOFT_PX))


def _spectrum(field: Complex) -> Complex:
    cv2 = load_cv2()
    rows, columns = (cv2.getOptimalDFTSize(length + length // 3) for length in field.shape[:2])
    padded = np.zeros((rows, columns, 2), np.float32)
    padded[: field.shape[0], : field.shape[1]] = field
    return np.asarray(cv2.dft(padded, flags=cv2.DFT_COMPLEX_OUTPUT))


def _peaks(planes: F32, size: tuple[int, int], scale: int) -> list[Guess]:
    """Take the highest peaks over turns and shifts."""
    reach_y, reach_x = size[0] // 3, size[1] // 3
    # Shifts run from -reach to reach; beyond, the frame would meet its other end.
    near = np.concatenate([planes[:, -reach_y:], planes[:, : reach_y + 1]], axis=1)
    near = np.concatenate([near[:, :, -reach_x:], near[:, :, : reach_x + 1]], axis=2)
    best = near.max(axis=0)
    found: list[Guess] = []
    highest = load_cv2().dilate(best, np.ones((_APART_PX, _APART_PX), np.uint8))
    rows, columns = np.nonzero((best >= highest) & (best > 0.0))
    for k in np.argsort(-best[rows, columns], kind="stable")[:_PEAKS]:
        row, column = int(rows[k]), int(columns[k])
        turn = int(np.argmax(near[:, row, column]))
        dx, dy = (_between(near[turn], row, column, axis) for axis in (1, 0))
        shift = ((column - reach_x + dx) * scale, (row - reach_y + dy) * scale)
        found.append(Guess(shift, _between_turns(near[:, row, column], turn), float(best[row, column])))
    return found


def _between(plane: F32, row: int, column: int, axis: int) -> float:
    line, at = (plane[:, column], row) if axis == 0 else (plane[row], column)
    return _vertex(line, at)


def _between_turns(line: F32, at: int) -> float:
    return float(TURNS_DEG[at] + _vertex(line, at) * (TURNS_DEG[1] - TURNS_DEG[0]))


def _vertex(line: F32, at: int) -> float:
    """Where a parabola through a peak and its neighbours is highest, from the peak; 0 at the ends."""
    if not 0 < at < len(line) - 1:
        return 0.0
    a, b, c = (float(value) for value in line[at - 1 : at + 2])
    bend = a - 2.0 * b + c
    return float(np.clip(0.5 * (a - c) / bend, -0.5, 0.5)) if bend < 0.0 else 0.0
