"""A quick look whether a board is where it was in a frame shortly before: enough to say yes, never to say no."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.registration.content import beside_gaps, least_slope, offsets, smoothed
from irspot.registration.edge_map import without_gaps
from irspot.registration.following import Reference

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]

_REACH_PX: Final = 2.0
_NEAR_PX: Final = 0.4
_MOST_STRAY_PX: Final = 0.6
_LEAST_NEAR: Final = 0.85
_STILL_PX: Final = 0.12
_FEWEST: Final = 40


@dataclass(frozen=True, slots=True, eq=False)
class StillCheck:
    """A reference's edges where they are, and how far they and the outline's corners move for each parameter.

    Parameters
    ----------
    places_px, normals : ndarray, shape (n, 2)
    slopes : ndarray, shape (n, count)
    corner_slopes : ndarray, shape (corners, 2, count)
    least : float
    blur_px : float
    """

    places_px: FloatArray
    normals: FloatArray
    slopes: FloatArray
    corner_slopes: FloatArray
    least: float
    blur_px: float

    @classmethod
    def of(cls, reference: Reference) -> StillCheck:
        """Prepare for frames shortly after a usable reference."""
        from irspot.registration.homography import apply

        anchors = reference.anchors
        assert anchors is not None
        nothing = np.zeros(anchors.motion.count)
        places, normals = anchors.carried(nothing)
        corners = apply(reference.placement.matrix, reference.corners_mm)
        points = anchors.motion.points_of(corners, np.zeros(len(corners)))
        return cls(
            places,
            normals,
            anchors.slopes(nothing, normals),
            anchors.motion.slopes(nothing, points),
            least_slope(reference.noise_k, reference.blur_px),
            reference.blur_px,
        )

    def surely(self, degc: F32) -> bool:
        """Say whether nearly all edges are where they were, and what little they moved moves no corner.

        Parameters
        ----------
        degc : ndarray of float32, shape (rows, columns)
            NaN where there is no number.
        """
        smooth = smoothed(without_gaps(degc), self.blur_px)
        smooth[beside_gaps(degc, self.blur_px)] = np.nan
        here = offsets(smooth, self.places_px, self.normals, _REACH_PX, 1.0, self.least)
        near = here.present & (np.abs(here.offset_px) < _NEAR_PX)
        if near.sum() < max(_FEWEST, _LEAST_NEAR * here.seen.sum()):
            return False
        # A little further out than what counts as near: a board on the move draws its edges there.
        used = here.present & (np.abs(here.offset_px) < _MOST_STRAY_PX)
        slopes = self.slopes[used]
        by = np.linalg.lstsq(slopes.T @ slopes, slopes.T @ here.offset_px[used], rcond=None)[0]
        return bool(np.hypot(*(self.corner_slopes @ by).T).max() < _STILL_PX)
