"""Readings judged by the truth: coverage, bounds and silent errors over scenes with every unknown drawn.

What is stated of a scene is drawn from the distribution that its uncertainty says; sizes, shapes, blur and noise are
drawn widely. `pytest -s -m full tests/measurement/test_trust.py` prints the figures that the guide states.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from irspot.measurement import emissivity_map_of, measure_zones
from irspot.results import Reading
from irspot.synthetic.trust_scenes import Wishes, trust_scene

FIRST_SEED = 90_000
SMALL, MIDDLE, WIDE, BOTH = (4.0, 6.0), (6.0, 10.0), (10.0, 32.0), (6.0, 32.0)
"""Narrow sides of parts, px."""


@dataclass(frozen=True, slots=True)
class Judged:
    """A reading beside the truth."""

    error_k: float
    U_max_k: float
    bound_above_k: float
    verdict: str
    rectangular: bool


def judged(wishes: Wishes, scenes: int, first_seed: int = FIRST_SEED) -> list[Judged]:
    found = []
    for seed in range(first_seed, first_seed + scenes):
        scene = trust_scene(seed, wishes)
        even = scene.even
        mapped = even and emissivity_map_of(even.frame, scene.board, even.placement, even.taken)
        readings = measure_zones(scene.frame, scene.board, scene.placement, scene.conditions, mapped)
        for reading, true in zip(readings, scene.zones, strict=False):
            found.append(judged_by_truth(reading, true.max_degc))
    return found


def judged_by_truth(reading: Reading, true_degc: float) -> Judged:
    """Hold a reading against the truth; it is rectangular where one bound is more than half of its combined u."""
    combined = reading.U_max_k / 2.0
    bounds = max((term.u_k for term in reading.budget if term.rectangular), default=0.0)
    return Judged(
        reading.max_degc - true_degc,
        reading.U_max_k,
        reading.bound_degc - true_degc,
        reading.verdict,
        bounds > 0.5 * combined,
    )


def usable(found: list[Judged]) -> list[Judged]:
    return [each for each in found if each.verdict == "usable"]


def coverage(found: list[Judged]) -> float:
    return float(np.mean([abs(each.error_k) <= each.U_max_k for each in found]))


def widest_needed(found: list[Judged]) -> float:
    """Share of its U that covers 95 % of the readings: what a budget without waste would have."""
    return float(np.quantile([abs(each.error_k) / each.U_max_k for each in found], 0.95))


def silent(found: list[Judged]) -> int:
    """Usable readings that are badly wrong without saying so."""
    return sum(abs(each.error_k) > max(5.0, 2.0 * each.U_max_k) for each in usable(found))


def bounds_above(found: list[Judged]) -> float:
    bounds = [each.bound_above_k > 0.0 for each in found if each.verdict == "lower bound"]
    return float(np.mean(bounds)) if bounds else 0.0


def line(name: str, found: list[Judged]) -> str:
    good = usable(found)
    return (
        f"{name}: {len(found)} readings, {len(good)} usable; U covers {coverage(good):.1%}, "
        f"U {np.mean([each.U_max_k for each in good]):.2f} K is {1.0 / widest_needed(good):.2f} times what 95 % need; "
        f"bounds above the truth {bounds_above(found):.1%}; silent errors {silent(found)}"
    )


def test_usable_readings_cover_and_bounds_bound() -> None:
    found = judged(Wishes(), 60)
    # Two standard errors below 95 %.
    assert coverage(usable(found)) >= 0.95 - 2.0 * np.sqrt(0.95 * 0.05 / len(usable(found)))
    assert silent(found) == 0
    assert bounds_above(found) <= 0.05


GROUPS = {
    "stated blur, 4 to 6 px": Wishes(narrow_px=SMALL, states_blur=1.0, blur_px=(0.4, 1.2)),
    "stated blur, 6 to 10 px": Wishes(narrow_px=MIDDLE, states_blur=1.0),
    "stated blur, over 10 px": Wishes(narrow_px=WIDE, states_blur=1.0),
    "unstated blur, 4 to 6 px": Wishes(narrow_px=SMALL, states_blur=0.0, blur_px=(0.4, 1.2)),
    "unstated blur, 6 to 10 px": Wishes(narrow_px=MIDDLE, states_blur=0.0),
    "unstated blur, over 10 px": Wishes(narrow_px=WIDE, states_blur=0.0),
    "a better camera": Wishes(limit_k=0.3, states_blur=1.0),
    "mapped": Wishes(mapped=True, emissivity=(0.15, 0.95), u_emissivity=(0.0, 0.0), limit_k=0.5, narrow_px=BOTH),
    "metal": Wishes(
        emissivity=(0.1, 0.5),
        u_emissivity=(0.003, 0.03),
        emissivity_from="contact",
        kinds=("plateau", "dome"),
        reflected_degc=(20.0, 60.0),
        narrow_px=BOTH,
    ),
    # Heat without an edge would reach onto parts of other emissivities than its zone states.
    "reflected": Wishes(
        emissivity=(0.6, 0.96),
        kinds=("plateau", "dome"),
        reflected_degc=(20.0, 60.0),
        u_reflected_k=(3.0, 10.0),
        narrow_px=BOTH,
    ),
}
ROUGH = replace(GROUPS["metal"], emissivity=(0.15, 0.5), u_emissivity=(0.05, 0.08), reflected_degc=(20.0, 30.0))
"""Metal whose emissivity is known so roughly that it is bounded."""


@pytest.mark.parametrize("name", ["mapped", "metal", "reflected"])
def test_some_of_what_emissivities_and_surroundings_leave_open(name: str) -> None:
    found = judged(GROUPS[name], 12)
    good = usable(found)
    assert len(good) >= 30
    assert coverage(good) >= 0.93 - 2.0 * np.sqrt(0.93 * 0.07 / len(good))
    assert silent(found) == 0
    assert bounds_above(found) <= 0.1


@pytest.mark.full
@pytest.mark.parametrize("name", GROUPS)
def test_each_group_of_difficulty(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = judged(GROUPS[name], 340)
    with capsys.disabled():
        print(f"\n{line(name, found)}")
    assert len(usable(found)) >= 1000
    assert coverage(usable(found)) >= 0.93
    plain = [each for each in usable(found) if not each.rectangular]
    assert len(plain) < 200 or coverage(plain) <= 0.97
    assert widest_needed(usable(found)) >= 1.0 / 1.3
    # At most 2.5 %, to a whole reading.
    bounds = sum(each.verdict == "lower bound" for each in found)
    assert round(bounds_above(found) * bounds) <= np.ceil(0.025 * bounds)
    assert silent(found) == 0


@pytest.mark.full
def test_roughly_known_metal_is_bounded(capsys: pytest.CaptureFixture[str]) -> None:
    found = judged(ROUGH, 340)
    bounds = [each for each in found if each.verdict == "lower bound"]
    with capsys.disabled():
        print(f"\nrough metal: {len(found)} readings, {len(bounds)} bounds, {bounds_above(found):.1%} above the truth")
    assert len(bounds) >= 400
    assert bounds_above(found) <= 0.025
    assert not usable(found) or silent(found) == 0
