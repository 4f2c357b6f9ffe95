"""Following a board into a later frame, against one `cv2.findTransformECC` homography between the same two frames.

Rendered benches (`irspot.synthetic.nudges`) of 640 x 512: a reference at 30 % of its warmth, a later frame that is hot,
the board still or nudged by 4 mm, a turn and a tilt. ECC starts from no motion with its default criteria; whether it
converges is of no account to its time. Also what following costs to prepare, once a run, and how far off both are.

Run by hand:  python tests/benchmarks/bench_following.py [--scenes 30] [--first 0]
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from irspot.errors import PlacementRefused
from irspot.registration.following import Reference, follow, reference_of
from irspot.registration.homography import apply
from irspot.registration.placement import Placement
from irspot.synthetic.nudges import STILL, Bench, Nudge, random_bench, random_nudge

SIZE = (640, 512)


def placement_in(bench: Bench, nudge: Nudge = STILL) -> Placement:
    view = bench.view_after(nudge)
    return Placement(view.matrix(), view.side, view.optics, view.size_px, "auto", 0.1, 0.1, 100)


def milliseconds(call: Callable[[], object], times: int = 3) -> float:
    best = np.inf
    for _ in range(times):
        start = time.perf_counter()
        call()
        best = min(best, time.perf_counter() - start)
    return best * 1e3


def followed_off_px(reference: Reference, bench: Bench, later: np.ndarray, nudge: Nudge) -> float:
    corners = bench.outline.array_mm
    try:
        found = follow(reference, later, bench.noise_k).placement
    except PlacementRefused:
        return float("nan")
    return float(np.hypot(*(found.to_px(corners) - placement_in(bench, nudge).to_px(corners)).T).max())


def ecc_warp(first: np.ndarray, later: np.ndarray) -> np.ndarray | None:
    try:
        return cv2.findTransformECC(first, later, np.eye(3, dtype=np.float32), cv2.MOTION_HOMOGRAPHY)[1]
    except cv2.error:
        return None


def ecc_off_px(bench: Bench, first: np.ndarray, later: np.ndarray, nudge: Nudge) -> float:
    warp = ecc_warp(first, later)
    if warp is None:
        return float("nan")
    corners = bench.outline.array_mm
    found = apply(warp.astype(np.float64), placement_in(bench).to_px(corners))
    return float(np.hypot(*(found - placement_in(bench, nudge).to_px(corners)).T).max())


def quantiles(values: list[float], digits: int) -> str:
    known = np.array(values)[np.isfinite(values)]
    return " / ".join(f"{value:.{digits}f}" for value in np.quantile(known, [0.5, 0.9, 1.0])) if len(known) else "-"


def main() -> None:
    wanted = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    wanted.add_argument("--scenes", type=int, default=30)
    wanted.add_argument("--first", type=int, default=0, help="first seed")
    chosen = wanted.parse_args()
    cv2.setNumThreads(1)
    prepare: list[float] = []
    print(
        "| 640 x 512 | following, ms: median / 90 % / max | ECC, ms | ratio of medians | off, px | ECC off, px | lost |"
    )
    print("|---|---|---|---|---|---|---|")
    for name in ("still", "nudged by 4 mm"):
        mine, theirs, off, ecc_off = [], [], [], []
        for seed in range(chosen.first, chosen.first + chosen.scenes):
            bench = random_bench(seed, size_px=SIZE)
            nudge = STILL if name == "still" else random_nudge(np.random.default_rng(seed), 4.0)
            first, later = bench.frame(0.3), bench.frame(1.0, nudge, 1)
            placement = placement_in(bench)
            prepare.append(milliseconds(lambda: reference_of(first, bench.board, placement, bench.noise_k)))  # noqa: B023
            reference = reference_of(first, bench.board, placement, bench.noise_k)
            mine.append(milliseconds(lambda: followed_off_px(reference, bench, later, nudge)))  # noqa: B023
            theirs.append(milliseconds(lambda: ecc_warp(first, later)))  # noqa: B023
            off.append(followed_off_px(reference, bench, later, nudge))
            ecc_off.append(ecc_off_px(bench, first, later, nudge))
        lost = int(np.sum(~np.isfinite(off)))
        cells = [name, quantiles(mine, 1), quantiles(theirs, 1), f"{np.median(mine) / np.median(theirs):.2f}"]
        cells += [quantiles(off, 2), quantiles(ecc_off, 2), f"{lost} of {chosen.scenes}"]
        print("| " + " | ".join(cells) + " |")
    print(f"\npreparing the reference, once a run: {np.median(prepare):.0f} ms")


if __name__ == "__main__":
    main()
