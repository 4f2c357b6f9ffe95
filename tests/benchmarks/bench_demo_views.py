"""Boards of the demo found in frames that see them askew: how many are placed, and how many wrongly.

Run by hand:  python tests/benchmarks/bench_demo_views.py [--without-marks]
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from irspot.errors import PlacementRefused
from irspot.frame import Frame
from irspot.placing import AUTO
from irspot.registration import place_frame
from irspot.synthetic.demo import demo_scene, demo_surface, photograph, true_corners_px
from irspot.synthetic.demo_runs import DEMO_CAMERA, DemoRun, demo_runs

TILTS, TURNS, SEED = (16.0, 18.0, 20.0, 22.0, 24.0), (-6.0, 0.0, 6.0), 7700
WRONG_PX = 3.0


def corner_error_px(run: DemoRun, tilt: float, turn: float, seed: int, *, marks: bool) -> float | str:
    """Largest error of a corner, or why the board was not placed."""
    scene = demo_scene(run)
    pose = replace(scene.pose, tilt_deg=tilt, turn_deg=turn, roll_deg=0.0, distance_mm=1.08 * scene.pose.distance_mm)
    scene = replace(scene, pose=pose, error_share=0.0, seed=seed)
    frame = Frame(photograph(scene, demo_surface(run)), DEMO_CAMERA, run.id)
    board = scene.board.board if marks else replace(scene.board.board, marks=())
    try:
        placement = place_frame(frame, board, AUTO, side=run.side, top="up")
    except PlacementRefused as refusal:
        return refusal.cause
    return float(np.abs(placement.to_px(board.outline.array_mm) - np.array(true_corners_px(scene))).max())


def main() -> None:
    marks = "--without-marks" not in sys.argv[1:]
    views = [(tilt, turn) for tilt in TILTS for turn in TURNS]
    found = [
        corner_error_px(run, *view, SEED + n, marks=marks)
        for run in demo_runs()
        if run.side == "front" and run.board in ("k7", "p5")  # 244 x 305 mm, of which much else has the form
        for n, view in enumerate(views)
    ]
    errors = np.array([each for each in found if isinstance(each, float)])
    causes = Counter(each for each in found if isinstance(each, str))
    print(
        f"{len(errors)} of {len(found)} placed, {np.count_nonzero(errors > WRONG_PX)} wrongly; refused: {dict(causes)}"
    )
    middle, most = np.median(errors), np.quantile(errors, 0.95)
    print(f"worst corner: median {middle:.2f} px, 95 % {most:.2f} px, largest {errors.max():.1f} px")


if __name__ == "__main__":
    main()
