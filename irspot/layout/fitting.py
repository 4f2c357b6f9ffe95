"""A set of zones carried from one board to another of its family: the mapping fitted to named points, or refused."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from irspot.layout.plane import FloatArray, Plane, affine, misses, similarity
from irspot.shapes import Circle, Polygon, Shape

Mapping = Literal["similarity", "affine"]

MOST_OFF_MM: Final = 1.0
"""A point missed by more is another point, or the boards are of two families."""
SCALE_RANGE: Final = (0.8, 1.25)
"""Boards are drawn at their own size: beyond it millimetres of one of the two are none."""
SCALE_WORTH_A_WORD: Final = 0.01
_LEAST_APART_MM: Final = 1.0
_FLATTEST: Final = 0.02
"""Points this close to one line, by width over length, do not tell an affine mapping."""
_STRAIGHT: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Fitted:
    """A mapping, and how far to trust it.

    Parameters
    ----------
    plane : Plane
    words : str
        What was found, for people.
    warnings : tuple of str
    """

    plane: Plane
    words: str
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NotFitted:
    """Why there is no mapping, and what to try."""

    reason: str
    hint: str = ""


def fitted(source: FloatArray, target: FloatArray, names: Sequence[str], kind: Mapping) -> Fitted | NotFitted:
    """Fit a mapping to named points, and hold it against what boards of a family can differ by.

    Parameters
    ----------
    source, target : ndarray, shape (n, 2)
        Places on the one board and on the other, mm.
    names : sequence of str
    kind : {"similarity", "affine"}
        Turn, move and scale from two points on; or, from three on, also uneven scales and shear.
    """
    least = 2 if kind == "similarity" else 3
    if len(source) < least:
        found = "one point" if len(source) == 1 else f"{len(source)} points"
        return NotFitted(f"{found} tell no {kind} mapping", f"give {least} points or more, far from one another")
    spread = np.linalg.svd(source - source.mean(axis=0), compute_uv=False)
    if spread[0] < _LEAST_APART_MM or (kind == "affine" and spread[1] < _FLATTEST * spread[0]):
        where = "on one line" if spread[0] >= _LEAST_APART_MM else "in one place"
        return NotFitted(f"the points lie {where}", "give points far from one another, not on one line")
    plane = similarity(source, target) if kind == "similarity" else affine(source, target)
    return _wrong(plane, source, target, names, kind) or _found(plane, source, target, kind)


def _wrong(
    plane: Plane, source: FloatArray, target: FloatArray, names: Sequence[str], kind: Mapping
) -> NotFitted | None:
    missed = misses(plane, source, target)
    worst = int(np.argmax(missed))
    low, high = _scales(plane)
    if kind == "similarity" and missed[worst] > MOST_OFF_MM:
        turned_over = similarity(source, target, mirror=True)
        if misses(turned_over, source, target).max() <= MOST_OFF_MM:
            return NotFitted("the points fit only turned over", "places are seen from the front, also on the rear")
    if plane.mirrors:
        return NotFitted("the points fit only turned over", "places are seen from the front, also on the rear")
    if missed[worst] > MOST_OFF_MM:
        hint = "check its places on both boards"
        if kind == "similarity" and len(source) > 3 and misses(affine(source, target), source, target).max() < 0.5:
            hint += ", or try --fit affine, which fits"
        reason = f"'{names[worst]}' is missed by {missed[worst]:.2f} mm, and {MOST_OFF_MM:g} mm is the most taken"
        return NotFitted(reason, hint)
    if low < SCALE_RANGE[0] or high > SCALE_RANGE[1]:
        reason = f"the boards differ in scale by {low:.3f}" + ("" if high - low < 1e-6 else f" to {high:.3f}")
        return NotFitted(reason, "boards are given in mm at their own size: check the points")
    return None


def _found(plane: Plane, source: FloatArray, target: FloatArray, kind: Mapping) -> Fitted:
    missed = float(misses(plane, source, target).max())
    low, high = _scales(plane)
    scale = f"scale {low:.4f}" if kind == "similarity" else f"scales {low:.4f} and {high:.4f}"
    x, y = plane.at(0.0, 0.0)
    words = f"{len(source)} points: turned by {plane.turn_deg % 360.0:.2f}°, {scale}, origin at {x:.2f}, {y:.2f} mm, "
    words += f"points missed by up to {missed:.3f} mm"
    warnings = []
    if max(abs(low - 1.0), abs(high - 1.0)) > SCALE_WORTH_A_WORD:
        warnings.append(f"zones are drawn at {scale}: parts of one kind are of one size on all boards")
    if len(source) == (2 if kind == "similarity" else 3):
        left = "their distance alone tells" if kind == "similarity" else "nothing tells"
        warnings.append(f"{left} whether these points are right; one point more would")
    return Fitted(plane, words, tuple(warnings))


def _scales(plane: Plane) -> tuple[float, float]:
    """Give the least and the largest scale of a mapping."""
    values = np.linalg.svd(np.array([[plane.a, plane.b], [plane.d, plane.e]]), compute_uv=False)
    return float(values[1]), float(values[0])


def carried(shape: Shape, plane: Plane) -> Shape:
    """Carry a region to the other board, in nanometres and no finer.

    Parameters
    ----------
    shape : Polygon or Circle
    plane : Plane

    Returns
    -------
    Polygon or Circle
        A circle stays one where scales are even, else it becomes a polygon.
    """
    low, high = _scales(plane)
    if isinstance(shape, Circle) and high - low <= 1e-6 * high:
        x, y = plane.at(shape.x_mm, shape.y_mm)
        return Circle(round(x, 9), round(y, 9), round(shape.radius_mm * high, 9))
    corners = shape.border_points(shape.radius_mm) if isinstance(shape, Circle) else shape.array_mm
    return Polygon(tuple((round(x, 9), round(y, 9)) for x, y in plane.carry(corners).tolist()))


def is_move(plane: Plane) -> bool:
    """Say whether a mapping only moves: rectangles along the axes stay such."""
    return abs(plane.b) < _STRAIGHT and abs(plane.d) < _STRAIGHT and plane.a > 0.0 and plane.e > 0.0
