"""The demo study's content: every file of it as bytes, and the truth behind every frame."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict
from functools import lru_cache
from typing import Any

import numpy as np

from irspot.board import Side
from irspot.synthetic.demo_boards import demo_boards
from irspot.synthetic.demo_files import Again, board_toml, camera_toml, study_toml
from irspot.synthetic.demo_photos import demo_photos, photo_bytes
from irspot.synthetic.demo_pictures import INVENTED, demo_pictures, picture_bytes
from irspot.synthetic.demo_runs import DEMO_CAMERA, DemoRun, demo_runs, demo_scene
from irspot.synthetic.demo_soak import COARSE_CAMERA, demo_soak, log_text, recording_bytes
from irspot.synthetic.scene import Scene
from irspot.synthetic.sensor import photograph
from irspot.synthetic.surface import Field, Surface, face_rises, surface_of
from irspot.synthetic.tiff import tiff_bytes
from irspot.synthetic.truth import Truth, zone_truths
from irspot.synthetic.view import project

SAMPLE_BOARDS = ("t3", "h2")
"""Boards of the small sample study; its loads and sides are the demo's."""


@lru_cache(maxsize=16)
def _face_rises(board: str, load: str) -> dict[Side, Field]:
    return face_rises(demo_boards()[board], load)


def demo_surface(run: DemoRun) -> Surface:
    """Solve the true surface of a run; front and rear share one solution.

    Parameters
    ----------
    run : DemoRun

    Returns
    -------
    Surface
    """
    rise = _face_rises(run.board, run.load)[run.side]
    return surface_of(demo_boards()[run.board], rise, run.load, run.side, run.true_ambient_degc)


def true_corners_px(scene: Scene) -> tuple[tuple[float, float], ...]:
    """Where the outline's corners truly are in the frame, in the outline's order."""
    corners_mm = scene.board.board.outline.array_mm
    on_face = np.column_stack([corners_mm, np.zeros(len(corners_mm))])
    places = project(on_face, scene.pose, scene.side, scene.view.camera.optics, scene.view.size_px)
    return tuple((float(x), float(y)) for x, y in places)


def run_truth(run: DemoRun) -> Truth:
    """Say what was true of a run.

    Parameters
    ----------
    run : DemoRun

    Returns
    -------
    Truth
    """
    scene = demo_scene(run)
    return Truth(
        run=run.id,
        board=run.board,
        load=run.load,
        side=run.side,
        ambient_degc=run.true_ambient_degc,
        reflected_degc=run.true_reflected_degc,
        error_share=run.error_share,
        corners_px=true_corners_px(scene),
        zones=zone_truths(scene.board.board, demo_surface(run)),
    )


def demo_truth() -> tuple[Truth, ...]:
    """Say what was true of every run of the demo."""
    return tuple(run_truth(run) for run in demo_runs())


def demo_contents() -> Iterator[tuple[str, bytes]]:
    """Make every file of the demo study, the study file last.

    Yields
    ------
    name : str
        Relative path with forward slashes.
    content : bytes
    """
    yield from _contents(demo_runs(), "Four invented mainboards, stock and overclocked")


def sample_contents() -> Iterator[tuple[str, bytes]]:
    """Make every file of the small sample study: two of the demo's boards, everything else alike.

    Yields
    ------
    name : str
        Relative path with forward slashes.
    content : bytes
    """
    runs = [run for run in demo_runs() if run.board in SAMPLE_BOARDS]
    yield from _contents(runs, "Two invented mainboards, stock and overclocked")


def _contents(runs: Iterable[DemoRun], title: str) -> Iterator[tuple[str, bytes]]:
    runs = tuple(runs)
    ids = tuple(dict.fromkeys(run.board for run in runs))
    yield "camera.toml", camera_toml(DEMO_CAMERA).encode()
    for board in ids:
        yield f"boards/{board}.toml", board_toml(demo_boards()[board].board).encode()
    pictures = {picture.run.id: picture for picture in demo_pictures() if picture.run.board in ids}
    for run in runs:
        frame = photograph(demo_scene(run), demo_surface(run))
        yield f"frames/{run.id}.tiff", tiff_bytes(frame, run.taken, INVENTED)
        if run.id in pictures:
            yield pictures[run.id].file, picture_bytes(pictures[run.id], frame)
    photos = tuple(photo for photo in demo_photos() if photo.run.board in ids)
    for photo in photos:
        yield photo.file, photo_bytes(photo)
    soak = demo_soak()
    recorded = (soak,) if soak.run in runs else ()
    for each in recorded:
        surface = demo_surface(each.run)
        yield "camera-coarse.toml", camera_toml(COARSE_CAMERA).encode()
        yield each.frames_file, recording_bytes(each, surface, INVENTED)
        yield each.log_file, log_text(each, surface, INVENTED).encode()
    yield "truth.json", truth_json(tuple(run_truth(run) for run in runs)).encode()
    corners = {run.id: true_corners_px(demo_scene(run)) for run in runs}
    corners |= {each.id: true_corners_px(each.scene) for each in recorded}
    again = Again(tuple(pictures.values()), photos, recorded)
    yield "study.toml", study_toml(title, ids, runs, corners, again).encode()


def truth_json(truths: tuple[Truth, ...]) -> str:
    """Write truths as JSON that says they are invented."""
    document = {
        "about": f"{INVENTED} True values of the frames beside this file, to judge a measurement by.",
        "units": "temperatures in °C, board places in mm seen from the front, image places in px",
        "runs": [_rounded(asdict(truth)) for truth in truths],
    }
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _rounded(value: Any) -> Any:
    """Round every number to a ten-thousandth, so that other libraries' last digits do not show."""
    if isinstance(value, float):
        return round(value, 4)
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(item) for item in value]
    return value
