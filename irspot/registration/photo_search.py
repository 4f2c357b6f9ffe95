"""Where a photo of a board fits a thermal frame: tried at every size, turn and place, by the way edges run."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2
from irspot.registration.edge_field import C64, edge_field

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]

_SEARCHED_PX: Final = 160
_FILLS: Final = 20
_LEAST_FILL: Final = 0.45
_MOST_FILL: Final = 1.2
"""Board's longer side against the frame's: from, to, in so many equal ratios."""
_TURNS_DEG: Final = (-12.0, -8.0, -4.0, 0.0, 4.0, 8.0, 12.0)
_FAR: Final = 0.3
"""Share of the frame's size that the board's middle may be off the frame's."""
_LEAST_SEEN: Final = 0.15
_AROUND_PX: Final = 21


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A similarity from px of the photo to px of the frame, shape (2, 3), and how well edges agree, -1 to 1."""

    matrix: FloatArray
    score: float


def fits(degc: F32, grey: F32, corners_px: FloatArray, turn_deg: float, count: int) -> tuple[Fit, ...]:
    """Try a photo on a frame.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Of the frame, without gaps.
    grey : ndarray of float32, shape (rows, columns)
        Of the photo.
    corners_px : ndarray, shape (n, 2)
        Outline of the board in the photo.
    turn_deg : float
        How far the frame shows the board turned against the photo, clockwise: a multiple of 90.
    count : int
        How many to give at most.

    Returns
    -------
    tuple of Fit
        The best first, each of another size or turn.
    """
    factor = max(degc.shape) / _SEARCHED_PX
    target = _Target.of(_reduced(degc, factor))
    found = [
        _tried(target, grey, corners_px, fill, turn_deg + turn, factor)
        for fill in np.geomspace(_LEAST_FILL, _MOST_FILL, _FILLS)
        for turn in _TURNS_DEG
    ]
    return tuple(sorted(found, key=lambda fit: -fit.score)[:count])


@dataclass(frozen=True, slots=True, eq=False)
class _Target:
    """The frame's edges and their energy, as spectra padded so that shifts do not wrap."""

    shape: tuple[int, int]
    padded: tuple[int, int]
    edges: C64
    energy: C64
    total: float

    @classmethod
    def of(cls, image: F32) -> _Target:
        """Take the spectra of a reduced frame."""
        cv2 = load_cv2()
        field = edge_field(image, 1.0, _AROUND_PX)
        rows, columns = image.shape
        padded = (cv2.getOptimalDFTSize(2 * rows), cv2.getOptimalDFTSize(2 * columns))
        energy = np.abs(field) ** 2
        edges, energies = (np.fft.fft2(each, padded).astype(np.complex64) for each in (field, energy))
        return cls((rows, columns), padded, edges, energies, float(energy.sum()))


def _tried(target: _Target, grey: F32, corners_px: FloatArray, fill: float, turn_deg: float, factor: float) -> Fit:
    """Shift a photo of one size and turn over the frame; give the best place."""
    cv2 = load_cv2()
    rows, columns = target.shape
    matrix = _similarity(corners_px, fill * max(rows, columns), turn_deg, ((columns - 1) / 2.0, (rows - 1) / 2.0))
    per_px = float(np.hypot(*matrix[:, 0]))
    width = max(1, round(1.0 / per_px))
    shown = cv2.warpAffine(
        cv2.blur(grey, (width, width)), matrix, (columns, rows), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    mask = np.zeros((rows, columns), np.float32)
    cv2.fillPoly(mask, [np.rint(corners_px @ matrix[:, :2].T + matrix[:, 2]).astype(np.int32)], 1.0)
    field = edge_field(shown, 1.0, _AROUND_PX) * mask
    alike = _correlated(target.edges, field, target.padded)
    energy = np.maximum(_correlated(target.energy, mask, target.padded), _LEAST_SEEN * target.total)
    score = alike / np.sqrt(max(float(np.sum(np.abs(field) ** 2)), 1e-9) * energy)
    down, right = (int(_FAR * length) for length in (rows, columns))
    middle = (target.padded[0] // 2, target.padded[1] // 2)
    near = np.fft.fftshift(score)[middle[0] - down : middle[0] + down + 1, middle[1] - right : middle[1] + right + 1]
    y, x = np.unravel_index(int(np.argmax(near)), near.shape)
    matrix[:, 2] += (x - right, y - down)
    # Pixel centres at integers, here and in the frame itself.
    matrix = matrix * factor
    matrix[:, 2] += (factor - 1.0) / 2.0
    return Fit(matrix, float(near[y, x]))


def _correlated(spectrum: C64, field: NDArray[np.complex64] | F32, padded: tuple[int, int]) -> F32:
    """Sum of products at every shift of a field over what the spectrum is of."""
    return np.asarray(np.fft.ifft2(spectrum * np.conj(np.fft.fft2(field, padded))).real, np.float32)


def _similarity(corners_px: FloatArray, length_px: float, turn_deg: float, middle: tuple[float, float]) -> FloatArray:
    """Bring an outline to a length, a turn (clockwise, y down) and a middle, shape (2, 3)."""
    scale = length_px / float(np.ptp(corners_px, axis=0).max())
    cosine, sine = scale * np.cos(np.deg2rad(turn_deg)), scale * np.sin(np.deg2rad(turn_deg))
    turn = np.array([[cosine, -sine], [sine, cosine]])
    return np.column_stack([turn, np.array(middle) - turn @ corners_px.mean(axis=0)])


def _reduced(image: F32, factor: float) -> F32:
    rows, columns = image.shape
    size = (max(1, round(columns / factor)), max(1, round(rows / factor)))
    return np.asarray(load_cv2().resize(image, size, interpolation=load_cv2().INTER_AREA))
