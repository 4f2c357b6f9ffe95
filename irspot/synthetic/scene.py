"""A scene: one board under one load, what surrounds it, and the camera that looks at it."""

from __future__ import annotations

from dataclasses import dataclass

from irspot.board import Side
from irspot.camera import Camera
from irspot.synthetic.parts import Surroundings, SyntheticBoard
from irspot.synthetic.view import Pose

EMPTY_BENCH = Surroundings()


@dataclass(frozen=True, slots=True)
class ViewCamera:
    """A camera with its true faults, of which its file tells only a part.

    Parameters
    ----------
    camera : Camera
        As the camera file states it; needs ``optics.size_px``, ``optics.focal_px`` and a signal in K.
    supersample : int
        Samples per pixel and direction.
    faults : tuple of (int, int, float)
        Stuck pixels ``(x, y, °C)``, declared and undeclared ones.
    """

    camera: Camera
    supersample: int = 2
    faults: tuple[tuple[int, int, float], ...] = ()

    @property
    def size_px(self) -> tuple[int, int]:
        """``(columns, rows)``.

        Raises
        ------
        ValueError
            If the camera does not state it.
        """
        if self.camera.optics.size_px is None:
            raise ValueError("a synthetic camera needs size_px")
        return self.camera.optics.size_px


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything that decides one frame.

    Parameters
    ----------
    board : SyntheticBoard
    load : str
    side : {"front", "rear"}
    ambient_degc : float
    reflected_degc : float
        True reflected temperature.
    pose : Pose
    view : ViewCamera
    surroundings : Surroundings
    error_share : float
        The camera's true error of this session as a share (-1 to 1) of its limit.
    seed : int
        Of the noise.
    """

    board: SyntheticBoard
    load: str
    side: Side
    ambient_degc: float
    reflected_degc: float
    pose: Pose
    view: ViewCamera
    surroundings: Surroundings = EMPTY_BENCH
    error_share: float = 0.0
    seed: int = 0
