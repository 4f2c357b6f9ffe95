"""What results say about how they were made: digests and placements."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from irspot.registration.placement import Placement


def placement_json(placement: Placement) -> dict[str, Any]:
    """Describe a placement for results.json: matrix from board mm to px of the undistorted image, residual, method."""
    return {
        "matrix_mm_to_px": [[float(f"{value:.12g}") for value in row] for row in placement.matrix],
        "residual_px": float(f"{placement.residual_px:.6g}"),
        "residual_mm": float(f"{placement.residual_mm:.6g}"),
        "method": placement.method,
        "points": placement.points,
        "side": placement.side,
    }


def file_digest(path: Path) -> str:
    """Give a file's SHA-256, read in pieces."""
    import hashlib

    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
