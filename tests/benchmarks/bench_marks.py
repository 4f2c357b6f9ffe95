"""Marks in automatic placement, on scenes of known truth: which way round, refinement, placing by marks alone.

Boards have three to nine marks (holes, foil dots or both; in half of the scenes up to 40 % of them are missing), up to
15 round parts that are none, and many small parts. A board counts as misplaced if a corner is more than 3 px off.

Run by hand:  python tests/benchmarks/bench_marks.py [--scenes 200] [--first 0]
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from irspot.errors import PlacementRefused
from irspot.placing import ImageSide
from irspot.registration.find_board import find_board
from irspot.registration.placement import Placement
from irspot.synthetic.marked_scenes import HIDDEN, MarkedScene, hidden_outline_scene, marked_scene

WRONG_PX = 3.0
SIDES: tuple[ImageSide, ...] = ("up", "right", "down", "left")
BY_OUTLINE = {"contrast", "outline", "edge", "cut-off", "two", "too-small", "tilted"}


def symmetric(seed: int, share_drawn: float | None = None) -> MarkedScene:
    return marked_scene(seed, shape="square" if seed % 2 else "rectangle", share_drawn=share_drawn)


def placed(marked: MarkedScene, *, top: ImageSide | None, side: str | None = None, marks: bool = True) -> Placement:
    scene = marked.scene
    board = scene.board if marks else replace(scene.board, marks=())
    return find_board(scene.degc, board, scene.optics, side=side or scene.side, top=top, noise_k=scene.noise_k)


def worst_px(marked: MarkedScene, placement: Placement) -> float:
    corners = placement.to_px(marked.scene.board.outline.array_mm)
    return float(np.hypot(*(corners - marked.scene.corners_px).T).max())


def tally(scenes: Iterable[MarkedScene], place: Callable[[MarkedScene], Placement]) -> tuple[Counter[str], list[float]]:
    """Count what becomes of scenes, and list the errors of what is placed."""
    counts, errors = Counter[str](), list[float]()
    for marked in scenes:
        try:
            placement = place(marked)
        except PlacementRefused as refused:
            counts["outline refused" if refused.cause in BY_OUTLINE else refused.cause] += 1
            continue
        error = worst_px(marked, placement)
        errors.append(error)
        how = "by marks" if placement.share_held is None else "by outline"
        counts["MISPLACED" if error > WRONG_PX else how] += 1
    return counts, errors


def say(what: str, counts: Counter[str], errors: list[float]) -> None:
    spread = " / ".join(f"{value:.2f}" for value in np.quantile(errors, [0.5, 0.95, 1.0])) if errors else "-"
    print(f"{what}: {dict(sorted(counts.items()))}; worst corner, median / 95th / max: {spread} px", flush=True)


def which_way_round(count: int, first: int) -> None:
    seeds = range(first, first + count)
    nobody = tally((symmetric(seed) for seed in seeds), lambda marked: placed(marked, top=None))
    say("rectangles and squares, no top said", *nobody)
    absent = tally((symmetric(seed, 0.0) for seed in seeds), lambda marked: placed(marked, top=None))
    say("the same, none of the marks there", *absent)

    def opposite(marked: MarkedScene) -> Placement:
        return placed(marked, top=SIDES[(SIDES.index(marked.scene.top) + 2) % 4])

    counts, _ = tally((symmetric(seed) for seed in seeds), opposite)
    say("the opposite top said (misplaced: nothing contradicted it)", counts, [])
    right = tally((symmetric(seed) for seed in seeds), lambda marked: placed(marked, top=marked.scene.top))
    say("the right top said", *right)


def refinement(count: int, first: int) -> None:
    before, after, used = [], [], 0
    for seed in range(first, first + count):
        marked = marked_scene(seed)
        try:
            bare = placed(marked, top=marked.scene.top, marks=False)
            held = placed(marked, top=marked.scene.top)
        except PlacementRefused:
            continue
        before.append(worst_px(marked, bare))
        after.append(worst_px(marked, held))
        used += len(held.marks)
    for name, errors in (("outline alone", before), ("with marks", after)):
        spread = " / ".join(f"{value:.3f}" for value in np.quantile(errors, [0.5, 0.95, 1.0]))
        print(f"{name}: {len(errors)} boards, worst corner, mean {np.mean(errors):.3f}, {spread} px")
    worse = int(np.sum(np.subtract(after, before) > 0.1))
    better = int(np.sum(np.subtract(before, after) > 0.1))
    print(f"{used} marks; {better} boards better by more than 0.1 px, {worse} worse", flush=True)


def hidden(count: int, first: int) -> None:
    for kind in HIDDEN:
        seeds = range(first, first + count // 2)
        found = tally((hidden_outline_scene(s, kind=kind) for s in seeds), lambda m: placed(m, top=m.scene.top))
        say(f"hidden outline, {kind}", *found)
        none = (hidden_outline_scene(s, kind=kind, share_drawn=0.0) for s in seeds)
        say(f"hidden outline, {kind}, no marks there", *tally(none, lambda m: placed(m, top=m.scene.top)))


def main() -> None:
    wanted = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    wanted.add_argument("--scenes", type=int, default=200)
    wanted.add_argument("--first", type=int, default=0, help="first seed")
    chosen = wanted.parse_args()
    start = time.perf_counter()
    which_way_round(chosen.scenes, chosen.first)
    refinement(chosen.scenes, chosen.first + chosen.scenes)
    hidden(chosen.scenes, chosen.first + 2 * chosen.scenes)
    print(f"{time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
