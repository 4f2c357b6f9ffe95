"""Bars of rendered frames: how many are found, how many wrongly, and how long it takes.

Run by hand: ``python tests/benchmarks/bench_find_bar.py [frames a kind]``. Frames are drawn at random from seed 10000
on: sides, directions, borders, gaps, ticks, labels, overlays, 8 to 256 steps or none, ten colour maps, seven sizes.
"""

from __future__ import annotations

import contextlib
import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from irspot.decoding.find_bar import find_bar
from irspot.errors import BarRefused
from irspot.synthetic.color_frames import decoded, encode, render
from irspot.synthetic.color_scenes import random_scale, random_style
from tests.decoding.bars import KINDS, faults, sample_of, scene_of

FIRST_SEED = 10000
TARGETS = "targets: found 98, wrong at most 0.5, 40 ms"


def count(kind: str, frames: int) -> Counter[str]:
    outcomes: Counter[str] = Counter()
    for seed in range(FIRST_SEED, FIRST_SEED + frames):
        sample = sample_of(seed, kind)
        try:
            wrong = faults(find_bar(sample.rgb), sample)
        except BarRefused as refused:
            outcomes[f"refused: {refused.cause}"] += 1
        else:
            outcomes["wrong" if wrong else "right"] += 1
    return outcomes


def least_ms(work, repeats: int = 5) -> float:
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times) * 1e3


def timed_pictures(frames: int, kind: str) -> list[np.ndarray]:
    pictures = []
    for seed in range(frames):
        degc = scene_of(seed, (640, 480))
        rgb = render(degc, *random_scale(seed, degc), random_style(seed, (640, 480))).rgb
        pictures.append(rgb if kind == "png" else decoded(encode(rgb, "jpeg", 85)))
    return pictures


def try_to_find(rgb: np.ndarray) -> None:
    with contextlib.suppress(BarRefused):
        find_bar(rgb)


def kd_tree_ms(rgb: np.ndarray) -> float:
    """Time one nearest-colour query of all pixels against 256 colours."""
    from matplotlib import colormaps
    from scipy.spatial import cKDTree

    tree = cKDTree(colormaps["inferno"](np.arange(256))[:, :3] * 255.0)
    pixels = rgb.reshape(-1, 3).astype(np.float64)
    return least_ms(lambda: tree.query(pixels))


def main() -> None:
    frames = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    print(f"{'frames':>10}  {'found %':>8}  {'wrong %':>8}  refused ({TARGETS})")
    for kind in KINDS:
        outcomes = count(kind, frames)
        causes = ", ".join(f"{name[9:]} {n}" for name, n in sorted(outcomes.items()) if name.startswith("refused"))
        right, wrong = (100.0 * outcomes[name] / frames for name in ("right", "wrong"))
        print(f"{kind:>10}  {right:8.1f}  {wrong:8.1f}  {causes}", flush=True)
    for kind in ("png", "jpeg"):
        pictures = timed_pictures(16, kind)
        times = [least_ms(lambda rgb=rgb: try_to_find(rgb), 3) for rgb in pictures]
        tree = kd_tree_ms(pictures[0])
        median, worst = np.median(times), np.max(times)
        print(
            f"640 x 480, {kind}: median {median:.0f} ms, worst {worst:.0f} ms (target 40); KD-tree query {tree:.0f} ms"
        )


if __name__ == "__main__":
    main()
