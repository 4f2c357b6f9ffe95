"""How often boards are placed in photos, and frames by photos, how far off, and how long it takes; run by hand.

python -m tests.benchmarks.bench_photos [COUNT] [FIRST SEED]
"""

from __future__ import annotations

import sys
import time
from collections import Counter

import numpy as np

from irspot.errors import PlacementRefused
from irspot.photo import Photo
from irspot.registration.by_photo import place_frame_by
from irspot.registration.in_photo import place_in_photo
from irspot.registration.spread import steps_px
from irspot.synthetic.demo_runs import demo_runs, demo_scene
from irspot.synthetic.photo_scenes import take_photo
from irspot.synthetic.random_photos import random_photo
from tests.registration.test_by_photo import frame_of, off_px, photo_beside, placed_photo


def in_photos(seeds: range) -> None:
    """Photos with everything drawn at random."""
    errors, whole, why, seconds = [], 0, Counter[str](), 0.0
    for seed in seeds:
        scene, top = random_photo(seed)
        photo, board = Photo(take_photo(scene)), scene.board.board
        inside = (scene.corners_px > 3.0) & (scene.corners_px < np.array(scene.size_px) - 4.0)
        whole += bool(inside.all())
        start = time.process_time()
        try:
            placement = place_in_photo(photo, board, side=scene.side, top=top)
            off = placement.to_px(board.outline.array_mm) - scene.corners_px
            errors.append(float(np.hypot(*off.T).max()) * 1000.0 / max(scene.size_px))
        except PlacementRefused as refusal:
            why[refusal.cause] += 1
        seconds += time.process_time() - start
    summary("in photos, px of 1000", errors, len(seeds), seconds)
    print(f"  {whole} show the whole board; refused: {dict(why)}")


def by_photos(seeds: range, angle_deg: float) -> None:
    """The demo's frames by photos from beside the camera, its view up to an angle away about each axis."""
    errors, inside, seconds = [], [], 0.0
    runs = demo_runs()
    for seed in seeds:
        run = runs[seed % len(runs)]
        photo, placed = placed_photo(photo_beside(run.id, seed, angle_deg))
        frame, board = frame_of(run.id), demo_scene(run).board.board
        start = time.process_time()
        try:
            placement = place_frame_by(frame, board, photo, placed)
            errors.append(off_px(placement, run.id))
            steps = steps_px(placement, board.outline.array_mm)
            assert steps is not None
            inside.append(errors[-1] <= 2.0 * float(np.sqrt((steps**2).sum(axis=(0, 2))).max()))
        except PlacementRefused:
            pass
        seconds += time.process_time() - start
    summary(f"frames by photos within {angle_deg:g} degrees, px of 640", errors, len(seeds), seconds)
    print(f"  within 2 u: {100.0 * np.mean(inside):.0f} %")


def summary(name: str, errors: list[float], count: int, seconds: float) -> None:
    """Print what came out."""
    median, most, worst = np.percentile(errors, [50, 95, 100])
    print(
        f"{name}: {len(errors)} of {count} placed, worst corner off by {median:.2f} (median), {most:.2f} "
        f"(95th percentile), {worst:.2f} at most; {seconds / count:.2f} s each"
    )


if __name__ == "__main__":
    number, first = (int(sys.argv[n]) if len(sys.argv) > n else default for n, default in ((1, 40), (2, 20_000)))
    in_photos(range(first, first + number))
    for degrees in (4.0, 8.0):
        by_photos(range(first, first + number), degrees)
