"""Mappings of one plane onto another, and fitting them to named points."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Plane:
    """``(x, y) → (a x + b y + c, d x + e y + f)``.

    Parameters
    ----------
    a, b, c, d, e, f : float
    """

    a: float
    b: float
    c: float
    d: float
    e: float
    f: float

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Carry one point."""
        return self.a * x + self.b * y + self.c, self.d * x + self.e * y + self.f

    def carry(self, points: FloatArray) -> FloatArray:
        """Carry points, shape (n, 2)."""
        matrix = np.array([[self.a, self.b], [self.d, self.e]])
        return np.asarray(points @ matrix.T + np.array([self.c, self.f]))

    @property
    def turn_deg(self) -> float:
        """By how much the x axis turns, counter-clockwise."""
        return math.degrees(math.atan2(self.d, self.a))

    @property
    def scale(self) -> float:
        """Square root of how areas change."""
        return math.sqrt(abs(self.a * self.e - self.b * self.d))

    @property
    def mirrors(self) -> bool:
        """Whether it turns the plane over."""
        return self.a * self.e - self.b * self.d < 0.0


def shifted(x: float, y: float) -> Plane:
    """Give the mapping that only moves."""
    return Plane(1.0, 0.0, x, 0.0, 1.0, y)


def similarity(source: FloatArray, target: FloatArray, *, scale: float | None = None, mirror: bool = False) -> Plane:
    """Fit turn, move and scale in the sense of least squares.

    Parameters
    ----------
    source, target : ndarray, shape (n, 2)
        Two or more points, not all in one place.
    scale : float or None
        Held where given.
    mirror : bool
        Turn the plane over as well.

    Returns
    -------
    Plane
        In complex numbers ``w = s z + t`` with ``s = Σ conj(z) w / Σ |z|²`` over centred points; mirrored, with
        conj(z) for z. That is the solution of S. Umeyama, "Least-squares estimation of transformation parameters
        between two point patterns", IEEE PAMI 13 (1991) 376, in the plane.

    Examples
    --------
    >>> similarity(np.array([[0.0, 0.0], [1.0, 0.0]]), np.array([[5.0, 5.0], [5.0, 7.0]])).at(1.0, 1.0)
    (3.0, 7.0)
    """
    z = source[:, 0] + 1j * (-source[:, 1] if mirror else source[:, 1])
    w = target[:, 0] + 1j * target[:, 1]
    z0, w0 = z.mean(), w.mean()
    dz, dw = z - z0, w - w0
    s = complex(np.sum(np.conj(dz) * dw) / np.sum(np.abs(dz) ** 2))
    if scale is not None:
        s = s / abs(s) * scale if s else complex(scale)
    t = complex(w0 - s * z0)
    y = -1.0 if mirror else 1.0
    return Plane(s.real, -s.imag * y, t.real, s.imag, s.real * y, t.imag)


def affine(source: FloatArray, target: FloatArray) -> Plane:
    """Fit an affine mapping in the sense of least squares to three or more points that are not on one line."""
    rows = np.column_stack([source, np.ones(len(source))])
    solved, *_ = np.linalg.lstsq(rows, target, rcond=None)
    (a, d), (b, e), (c, f) = solved.tolist()
    return Plane(a, b, c, d, e, f)


def misses(plane: Plane, source: FloatArray, target: FloatArray) -> FloatArray:
    """Say by how much each point is missed, shape (n,)."""
    return np.asarray(np.hypot(*(plane.carry(source) - target).T))
