"""A camera that was switched on too lately to keep its maker's limits."""

from __future__ import annotations

from dataclasses import replace

from irspot.camera import Accuracy
from irspot.constants import WARMING_TIMES
from irspot.frame import Frame


def warming(accuracy: Accuracy, camera_on_min: float | None) -> bool:
    """Say whether a camera had been on for less than its warm-up; False where either is not known."""
    return camera_on_min is not None and accuracy.warm_up_min is not None and camera_on_min < accuracy.warm_up_min


def with_warm_up(frame: Frame, camera_on_min: float | None) -> Frame:
    """Widen the limits of a frame's camera if it was still warming up.

    Parameters
    ----------
    frame : Frame
    camera_on_min : float or None
        How long the camera had been on.

    Returns
    -------
    Frame
        Flagged ``camera-warming``, its camera's limits multiplied by `irspot.constants.WARMING_TIMES`; that frame
        itself where nothing says that the camera was warming up.
    """
    accuracy = frame.camera.accuracy
    if not warming(accuracy, camera_on_min) or "camera-warming" in frame.flags:
        return frame
    wider = replace(
        accuracy,
        limit_k=WARMING_TIMES * accuracy.limit_k,
        limit_relative=WARMING_TIMES * accuracy.limit_relative,
    )
    return replace(frame, camera=replace(frame.camera, accuracy=wider), flags=(*frame.flags, "camera-warming"))
