"""The demo's recorded warm-up: the rear of a board, with two beads, the air and the wall power logged.

A coarse camera of its own recorded it, a frame a minute, and was stopped before the end value was reached; the logger's
clock is not the camera's; one bead comes off.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Site
from irspot.camera import Camera
from irspot.synthetic.beads import Soak, TrueBead, bead_degc
from irspot.synthetic.canvas import Canvas, paint
from irspot.synthetic.demo_boards import demo_boards
from irspot.synthetic.demo_runs import DEMO_CAMERA, DemoRun, demo_runs, demo_scene
from irspot.synthetic.scene import Scene, ViewCamera
from irspot.synthetic.sensor import blurred, counts, limit_at, pixel_means, radiance, with_noise
from irspot.synthetic.surface import Surface
from irspot.synthetic.tiff import stack_bytes
from irspot.synthetic.view import rays, sample_directions

FloatArray = NDArray[np.floating[Any]]

FRAME_S: Final = 60.0
LOG_S: Final = 5.0
LOAD_AT_S: Final = 300.0
"""Recording and logging begin while the board idles."""
DURATION_S: Final = 2700.0
IDLE_SHARE: Final = 0.2
"""Of the rise under load that the idling board has."""
CLOCK_OFFSET_S: Final = 37.0
"""The logger's clock less the camera's."""
DETACHED: Final = "tc2"
DETACHED_S: Final = 1900.0
WIRE_SHARE: Final = 0.03
"""Of the rise that the beads' wires take."""
AIR_DRIFT_K_PER_H: Final = 0.4
IDLE_W: Final = 82.0
ERROR_SHARE: Final = 0.35
"""The recording camera's true error, as a share of its limit."""

COARSE_CAMERA: Final = replace(
    DEMO_CAMERA,
    name="Recording camera (invented)",
    optics=replace(
        DEMO_CAMERA.optics,
        size_px=(320, 256),
        focal_px=406.0,
        principal_px=(159.5, 127.5),
        blur_px=0.6,
    ),
    dead_px=(),
)
"""As its camera file states it."""


@dataclass(frozen=True, slots=True)
class DemoSoak:
    """A recorded run.

    Parameters
    ----------
    run : DemoRun
        The same board, load and side, and what was true at the end.
    """

    run: DemoRun

    @property
    def id(self) -> str:
        """Id of the run in the study."""
        return f"{self.run.id}-warmup"

    @property
    def frames_file(self) -> str:
        """Where the recording lies, relative to the study."""
        return f"frames/{self.id}.tiff"

    @property
    def log_file(self) -> str:
        """Where the log lies, relative to the study."""
        return f"logs/{self.id}.csv"

    @property
    def started(self) -> datetime:
        """When the recording began: it ends a minute before the still is taken."""
        return self.run.taken - timedelta(seconds=DURATION_S + 60.0)

    @property
    def frame_s(self) -> FloatArray:
        """Times of frames, from the recording's begin."""
        return np.arange(0.0, DURATION_S + 1.0, FRAME_S)

    @property
    def rise(self) -> Soak:
        """How the rise grows, as a share of what it ends at."""
        return Soak(loads=((-1e7, IDLE_SHARE), (LOAD_AT_S, 1.0)), tau_s=540.0, fast_share=0.3, ambient_degc=0.0)

    def air_degc(self, time_s: FloatArray) -> FloatArray:
        """True temperature of the air: that of the still at the end."""
        return np.asarray(self.run.true_ambient_degc + AIR_DRIFT_K_PER_H * (time_s - DURATION_S) / 3600.0)

    @property
    def scene(self) -> Scene:
        """What the recording camera looked at."""
        view, seed = ViewCamera(COARSE_CAMERA, supersample=1), self.run.seed + 500
        return replace(demo_scene(self.run), view=view, error_share=ERROR_SHARE, seed=seed)


def demo_soak() -> DemoSoak:
    """Give the demo's recorded run."""
    return DemoSoak(next(run for run in demo_runs() if run.id == "k7-overclock-rear"))


def recording_bytes(soak: DemoSoak, surface: Surface, description: str) -> bytes:
    """Record the run: one TIFF of many pages.

    Parameters
    ----------
    soak : DemoSoak
    surface : Surface
        True at the end.
    description : str
    """
    scene, view = soak.scene, soak.scene.view
    directions = sample_directions(view.camera.optics, view.size_px, view.supersample)
    canvas = paint(scene, surface, rays(directions, scene.pose, scene.side))
    frames = [
        _frame(scene, canvas, (float(share), float(air)), scene.seed + number)
        for number, (share, air) in enumerate(
            zip(soak.rise.surface_degc(soak.frame_s), soak.air_degc(soak.frame_s), strict=True)
        )
    ]
    taken = [soak.started + timedelta(seconds=float(second)) for second in soak.frame_s]
    return stack_bytes(frames, taken, description)


def _frame(scene: Scene, canvas: Canvas, now: tuple[float, float], seed: int) -> NDArray[np.uint16]:
    """Photograph the scene when its rise was a share of what it ends at."""
    share, air_degc = now
    camera = scene.view.camera
    degc = air_degc + share * (canvas.degc - scene.ambient_degc)
    seen = radiance(degc, canvas.emissivity, scene.reflected_degc, camera.band)
    sensed = pixel_means(blurred(seen, (camera.optics.blur_px or 0.0) * scene.view.supersample), scene.view.supersample)
    reading = _readings(camera)(sensed)
    reading = reading + scene.error_share * limit_at(camera.accuracy, reading)
    return counts(with_noise(reading, camera.accuracy, seed), camera.signal.scale, camera.signal.offset)


def _readings(camera: Camera) -> Callable[[FloatArray], NDArray[np.float64]]:
    from irspot.radiometry.band_table import band_table

    table = band_table(camera.band)
    return lambda radiances: np.asarray(table.temperature_degc(radiances), np.float64)


def true_bead_degc(soak: DemoSoak, site: Site, surface: Surface, time_s: FloatArray) -> FloatArray:
    """Say what a bead without noise showed.

    Parameters
    ----------
    soak : DemoSoak
    site : Site
    surface : Surface
        True at the end.
    time_s : ndarray
        Camera's clock, from the recording's begin.
    """
    end_degc = float(surface.face.at(site.x_mm, site.y_mm))
    bead = TrueBead(low_share=WIRE_SHARE, detached_s=DETACHED_S if site.id == DETACHED else None)
    rise_k = bead_degc(soak.rise, bead, time_s) * (end_degc - surface.ambient_degc)
    return np.asarray(soak.air_degc(time_s) + rise_k)


def log_text(soak: DemoSoak, surface: Surface, about: str) -> str:
    """Write the log as a logger of another country would: semicolons, decimal commas, its own clock.

    Parameters
    ----------
    soak : DemoSoak
    surface : Surface
        True at the end.
    about : str
        Said in its first line.
    """
    board = demo_boards()[soak.run.board].board
    random = np.random.default_rng(soak.run.seed + 900)
    time_s = np.arange(-120.0, DURATION_S + 60.0, LOG_S)
    beads = [
        true_bead_degc(soak, site, surface, time_s) + random.normal(0.0, 0.06, time_s.size) for site in board.sites
    ]
    air = soak.air_degc(time_s) + random.normal(0.0, 0.05, time_s.size)
    power = np.where(time_s < LOAD_AT_S, IDLE_W, soak.run.power_w) + random.normal(0.0, 0.8, time_s.size)
    names = [f"{site.id} [°C]" for site in board.sites]
    lines = [f"# {about}", ";".join(["time (UTC)", *names, "air [°C]", "wall power [W]"])]
    for at, *values in zip(time_s, *beads, air, power, strict=True):
        clock = soak.started + timedelta(seconds=float(at) + CLOCK_OFFSET_S)
        cells = [f"{value:.2f}".replace(".", ",") for value in values]
        lines.append(";".join([f"{clock:%Y-%m-%dT%H:%M:%S}Z", *cells]))
    return "\n".join(lines) + "\n"
