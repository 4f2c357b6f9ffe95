"""What results say about how they were made: digests and placements."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from irspot.registration.placement import Placement


def placement_json(placement: Placement) -> dict[str, Any]:
    """Describe a placement for results.json: matrix from board mm to px of the undistorted image, residual, method.

    Where the focal length is known it has the camera's pose too, which carries raised zones: ``seen = rotation (x, y,
    height) + translation`` in axes x right, y down, z away from the camera.
    """
    described = {
        "matrix_mm_to_px": [[float(f"{value:.12g}") for value in row] for row in placement.matrix],
        "residual_px": float(f"{placement.residual_px:.6g}"),
        "residual_mm": float(f"{placement.residual_mm:.6g}"),
        "method": placement.method,
        "points": placement.points,
        "side": placement.side,
        "marks": list(placement.marks),
        "marks_left_out": list(placement.marks_left_out),
    }
    return described if placement.optics.focal_px is None else {**described, "pose": _pose_json(placement)}


def _pose_json(placement: Placement) -> dict[str, Any]:
    from irspot.registration.heights import camera_pose

    pose = camera_pose(placement)
    return {
        "rotation": [[float(f"{value:.9g}") for value in row] for row in pose.rotation],
        "translation_mm": [float(f"{value:.9g}") for value in pose.translation_mm],
        "tilt_deg": round(pose.tilt_deg, 4),
        "residual_px": round(pose.residual_px, 4) if math.isfinite(pose.residual_px) else None,
    }


def names_of(files: Sequence[Path]) -> list[str]:
    """Name files by their last part, by their whole path where two share it: none may hide another."""
    plain = [file.name for file in files]
    return [file.name if plain.count(file.name) == 1 else file.as_posix() for file in files]


def file_digest(path: Path) -> str:
    """Give a file's SHA-256, read in pieces."""
    import hashlib

    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
