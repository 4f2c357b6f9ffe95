"""A board's edges carried to where a motion would put them, and the motion that brings them onto a frame's edges."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Optics
from irspot.registration.content import Edges, Offsets, offsets
from irspot.registration.distortion import distort, undistort
from irspot.registration.motions import GENTLE, Motion

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]
Bool = NDArray[np.bool_]

_REWEIGHTED: Final = 4
_TUKEY: Final = 4.685
"""Where Tukey's biweight gives no weight any more, in standard deviations: 95 % efficient for normal errors."""
_FEWEST: Final = 16
_LEAST_DEVIATION_PX: Final = 0.05
_TANGENT_PX: Final = 0.5
_NEAR_PX: Final = 0.4
"""An edge nearer than this to where it was brought is taken for the one sought."""
_AROUND_PX: Final = 0.7
"""How far edges of a found motion scatter at most; what lies further is another thing's."""
_BLOCKS: Final = 6
_COVERING: Final = 3.0
"""How many times what edges scatter by they err in common: heat spreads about all of a board at once (covers 95 % of
rendered boards that warm up, together with `EDGE_U_PX`)."""
_WORST_CONDITION: Final = 1e10


@dataclass(frozen=True, slots=True, eq=False)
class Anchors:
    """A board's edges, ready to be carried.

    Parameters
    ----------
    motion : Motion
    points, ahead : ndarray, shape (n, 3)
        The edges' places, and places a little along each edge, as the motion takes them.
    local : ndarray, shape (n, 2, 2)
        Slopes of the lens distortion at each.
    block : ndarray of int, shape (n,)
        Part of the board that each lies in.
    on_outline : ndarray of bool, shape (n,)
    optics : Optics
    size_px : tuple of int
    """

    motion: Motion
    points: FloatArray
    ahead: FloatArray
    local: FloatArray
    block: NDArray[np.intp]
    on_outline: Bool
    optics: Optics
    size_px: tuple[int, int]

    @property
    def spread(self) -> float:
        """Share of the board's parts that have edges."""
        return len(np.unique(self.block)) / _BLOCKS**2

    def carried(self, by: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Places and normals in the stored image after a motion, each of shape (n, 2)."""
        flat = np.concatenate([self.motion.carried(by, self.points), self.motion.carried(by, self.ahead)])
        both = distort(flat, self.optics, self.size_px)
        here, along = both[: len(self.points)], both[len(self.points) :] - both[: len(self.points)]
        along = along / np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-12)[:, None]
        return here, np.column_stack([-along[:, 1], along[:, 0]])

    def slopes(self, by: FloatArray, normals: FloatArray) -> FloatArray:
        """How far edges move along normals for each parameter, shape (n, count)."""
        return np.asarray(np.einsum("ni,nij,njk->nk", normals, self.local, self.motion.slopes(by, self.points)))


def anchors_of(edges: Edges, motion: Motion, optics: Optics, size_px: tuple[int, int]) -> Anchors:
    """Make edges ready to be carried.

    Parameters
    ----------
    edges : Edges
        At least one.
    motion : Motion
    optics : Optics
    size_px : tuple of int
    """
    places = edges.places_px
    along = np.column_stack([edges.normals[:, 1], -edges.normals[:, 0]])
    flat = undistort(places, optics, size_px)
    ahead = undistort(places + _TANGENT_PX * along, optics, size_px)
    return Anchors(
        motion,
        motion.points_of(flat, edges.height_mm),
        motion.points_of(ahead, edges.height_mm),
        _lens_slopes(flat, optics, size_px),
        _blocks(places),
        edges.on_outline,
        optics,
        size_px,
    )


def _lens_slopes(flat: FloatArray, optics: Optics, size_px: tuple[int, int]) -> FloatArray:
    if not optics.distorted:
        return np.tile(np.eye(2), (len(flat), 1, 1))
    steps = _TANGENT_PX * np.eye(2)
    sides = [distort(flat + step, optics, size_px) - distort(flat - step, optics, size_px) for step in steps]
    return np.stack(sides, axis=2) / (2.0 * _TANGENT_PX)


def _blocks(places: FloatArray) -> NDArray[np.intp]:
    low = places.min(axis=0)
    share = (places - low) / np.maximum(np.ptp(places, axis=0), 1.0)
    cells = np.minimum((share * _BLOCKS).astype(np.intp), _BLOCKS - 1)
    return np.asarray(cells[:, 0] * _BLOCKS + cells[:, 1])


@dataclass(frozen=True, slots=True, eq=False)
class Match:
    """A motion that brings a board's edges onto a frame's.

    Parameters
    ----------
    by : ndarray, shape (count,)
    covariance : ndarray, shape (count, count)
    deviation_px : float
        Robust standard deviation of the edges from where they were brought.
    left_px : ndarray, shape (n,)
        How far each still is from the frame's edge.
    near, seen : ndarray of bool, shape (n,)
        Whether it was met there; whether it is in view.
    """

    by: FloatArray
    covariance: FloatArray
    deviation_px: float
    left_px: FloatArray
    near: Bool
    seen: Bool


@dataclass(frozen=True, slots=True)
class Round:
    """One round of seeking edges and moving onto them: how far and how finely to look, and what may move.

    `gentle` shifts, turns and sizes only; `settled` takes it that most of what lies near is right, and weighs by that.
    """

    reach_px: float
    step_px: float = 1.0
    gentle: bool = False
    settled: bool = False


def matched(
    smooth: F32, anchors: Anchors, start: FloatArray, rounds: tuple[Round, ...], least: float, left_out: Bool
) -> Match | None:
    """Move edges onto a frame's.

    Parameters
    ----------
    smooth : ndarray of float32, shape (rows, columns)
    anchors : Anchors
    start : ndarray, shape (count,)
        Where to begin.
    rounds : tuple of Round
        The last one not gentle.
    least : float
        Least slope of an edge, K/px.
    left_out : ndarray of bool, shape (n,)
        Edges that have no say.

    Returns
    -------
    Match or None
        None where too few edges show to hold the board.
    """
    by, found = start.copy(), None
    for each in rounds:
        places, normals = anchors.carried(by)
        here = offsets(smooth, places, normals, each.reach_px, each.step_px, least)
        used = GENTLE if each.gentle else anchors.motion.count
        slopes = anchors.slopes(by, np.where(here.seen[:, None], normals, 0.0))[:, :used]
        prior = _Prior(by[:used], 1.0 / np.square(anchors.motion.usual[:used]))
        solved = _solved(slopes, here, ~left_out, prior, settled=each.settled)
        if solved is None:
            return None
        by[:used] += solved.change
        found = here, slopes, solved, prior
    if found is None:
        return None
    here, slopes, solved, prior = found
    left = here.offset_px - slopes @ solved.change
    covariance = _covariance(slopes, solved, left, anchors.block, prior)
    near = here.present & (np.abs(left) < _NEAR_PX)
    return Match(by, covariance, solved.deviation, left, near, here.seen)


@dataclass(frozen=True, slots=True, eq=False)
class _Prior:
    """Where the parameters are, and how strongly what is usual draws them to 0."""

    by: FloatArray
    precision: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Solved:
    change: FloatArray
    deviation: float
    weight: FloatArray


def _solved(slopes: FloatArray, here: Offsets, wanted: Bool, prior: _Prior, *, settled: bool) -> _Solved | None:
    """Solve for a change of parameters, weighing edges down that stray (Tukey's biweight)."""
    usable = here.present & wanted
    weight = usable.astype(np.float64)
    if settled:
        weight *= np.abs(here.offset_px) < 2.0 * _AROUND_PX
    found, deviation = None, 1.0
    for _ in range(_REWEIGHTED):
        if np.count_nonzero(weight) < _FEWEST:
            return None
        weighted = slopes * weight[:, None]
        pull = deviation**2 * prior.precision
        normal = weighted.T @ slopes + np.diag(pull)
        if np.linalg.cond(normal) > _WORST_CONDITION:
            return None
        change = np.asarray(np.linalg.solve(normal, weighted.T @ here.offset_px - pull * prior.by), np.float64)
        miss = np.abs(here.offset_px - slopes @ change)
        near = usable & (miss < _AROUND_PX) if settled else usable
        deviation = max(_LEAST_DEVIATION_PX, 1.4826 * float(np.median(miss[near]))) if near.any() else 1.0
        weight = np.where(usable, np.square(1.0 - np.minimum((miss / (_TUKEY * deviation)) ** 2, 1.0)), 0.0)
        found = _Solved(change, deviation, weight)
    return found


def _covariance(
    slopes: FloatArray, solved: _Solved, left: FloatArray, block: NDArray[np.intp], prior: _Prior
) -> FloatArray:
    """Covariance from how parts of the board pull, each as a whole: what warms together errs together.

    The sandwich estimate for clusters (K.-Y. Liang and S. L. Zeger, Biometrika 73, 1986).
    """
    pull = solved.deviation**2 * prior.precision
    normal = np.linalg.inv((slopes * solved.weight[:, None]).T @ slopes + np.diag(pull))
    pulls = np.zeros((int(block.max()) + 1, slopes.shape[1]))
    np.add.at(pulls, block, slopes * (solved.weight * left)[:, None])
    pulling = int(np.count_nonzero(np.abs(pulls).sum(axis=1)))
    spread = pulls.T @ pulls * (pulling / max(1, pulling - slopes.shape[1])) + np.diag(pull * solved.deviation**2)
    return np.asarray(_COVERING**2 * normal @ spread @ normal)
