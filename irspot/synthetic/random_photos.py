"""Photos of the demo's boards with everything else drawn at random, to try placing on."""

from __future__ import annotations

import numpy as np

from irspot.camera import Optics
from irspot.placing import ImageSide
from irspot.synthetic.demo_runs import demo_runs, demo_scene
from irspot.synthetic.photo_look import BENCHES, MASKS, Color, Look
from irspot.synthetic.photo_scenes import PhotoScene
from irspot.synthetic.scene import EMPTY_BENCH
from irspot.synthetic.view import Pose

_SIDES: tuple[ImageSide, ...] = ("up", "right", "down", "left")


def random_photo(seed: int, size_px: tuple[int, int] = (1024, 768)) -> tuple[PhotoScene, ImageSide]:
    """Draw a photo: board, side, pose, lens, colours, light, blur, noise; some with cut-off corners.

    Parameters
    ----------
    seed : int
    size_px : tuple of int

    Returns
    -------
    scene : PhotoScene
    top : {"up", "right", "down", "left"}
        Side of the photo that the board's top faces.
    """
    random = np.random.default_rng(seed)
    runs = demo_runs()
    run = runs[int(random.integers(len(runs)))]
    thermal = demo_scene(run)
    width, height = thermal.board.board.outline.box_mm[2:]
    quarter = int(random.integers(4))
    focal_px = float(random.uniform(0.8, 1.8)) * size_px[0]
    tilt, turn = random.uniform(-18.0, 18.0, 2).tolist()
    roll = 90.0 * quarter + float(random.uniform(-12.0, 12.0))
    across, along = (width, height) if quarter % 2 == 0 else (height, width)
    distance = focal_px * max(across / size_px[0], along / size_px[1]) / float(random.uniform(0.6, 1.0))
    aim = tuple((0.5 + random.uniform(-0.08, 0.08, 2)) * (width, height))
    scene = PhotoScene(
        board=thermal.board,
        side=run.side,
        pose=Pose(distance, (float(aim[0]), float(aim[1])), tilt, turn, roll),
        optics=Optics(focal_px=focal_px, distortion=(_distortion(random), 0.0, 0.0, 0.0, 0.0)),
        size_px=size_px,
        look=_look(random),
        surroundings=thermal.surroundings if random.random() < 0.7 else EMPTY_BENCH,
        supersample=1,
        seed=seed,
    )
    return scene, _SIDES[quarter]


def _distortion(random: np.random.Generator) -> float:
    return float(random.uniform(-0.03, 0.03)) if random.random() < 0.3 else 0.0


def _look(random: np.random.Generator) -> Look:
    angle, length = float(random.uniform(0.0, 2.0 * np.pi)), float(random.uniform(0.1, 1.2))
    right, down = random.uniform(-0.2, 0.2, 2).tolist()
    return Look(
        mask=_tinted(MASKS, random),
        bench=_tinted(BENCHES, random),
        light=(length * np.cos(angle), length * np.sin(angle)),
        shadow=float(random.uniform(0.3, 0.8)),
        gradient=(right, down),
        glare=float(random.uniform(0.0, 0.25)),
        blur_px=float(random.uniform(0.5, 1.8)),
        noise=float(random.uniform(0.004, 0.03)),
    )


def _tinted(colors: dict[str, Color], random: np.random.Generator) -> Color:
    red, green, blue = colors[list(colors)[int(random.integers(len(colors)))]]
    light = float(random.uniform(0.8, 1.2))
    return min(1.0, red * light), min(1.0, green * light), min(1.0, blue * light)
