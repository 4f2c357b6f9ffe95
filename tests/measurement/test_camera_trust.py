"""Readings with references and cold frames judged by the truth, as `test_trust` judges those without.

`pytest -s -m full tests/measurement/test_camera_trust.py` prints the figures that the guide states.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import pytest

from irspot.measurement import measure_zones
from irspot.measurement.cold_frame import pattern_of
from irspot.synthetic.camera_scenes import Fault, camera_scene
from irspot.synthetic.trust_scenes import Wishes

from .test_trust import Judged, bounds_above, coverage, judged_by_truth, line, silent, usable, widest_needed

FIRST_SEED = 410_000


@dataclass(frozen=True, slots=True)
class Group:
    wishes: Wishes
    fault: Fault


# The emissivity of heat without an edge is the board's, which is stated with a u and never drawn.
DRAWN = Wishes(narrow_px=(6.0, 32.0), kinds=("plateau", "dome"), blur_px=(0.4, 0.9), states_blur=1.0)
ONE, TWO = ((35.0, 75.0),), ((28.0, 38.0), (75.0, 95.0))
GROUPS = {
    "one reference": Group(DRAWN, Fault(ONE)),
    "two references": Group(DRAWN, Fault(TWO)),
    "cold frame": Group(replace(DRAWN, blur_px=(0.4, 1.5), limit_k=0.5), Fault((), 1.5)),
    "cold frame and one reference": Group(DRAWN, Fault(ONE, 1.5)),
}


def judged(group: Group, scenes: int, first_seed: int = FIRST_SEED, *, with_cold: bool = True) -> list[Judged]:
    found = []
    for seed in range(first_seed, first_seed + scenes):
        drawn = camera_scene(seed, group.wishes, group.fault)
        scene, frame = drawn.scene, drawn.scene.frame
        if drawn.cold is not None and with_cold:
            pattern = pattern_of(drawn.cold, scene.conditions)
            frame = replace(frame, pattern=pattern, flags=("pattern-removed",))
        readings = measure_zones(frame, scene.board, scene.placement, scene.conditions)
        for reading, true in zip(readings, scene.zones, strict=False):
            found.append(judged_by_truth(reading, true.max_degc))
    return found


def met(found: list[Judged]) -> None:
    assert coverage(usable(found)) >= 0.93
    plain = [each for each in usable(found) if not each.rectangular]
    assert len(plain) < 200 or coverage(plain) <= 0.97
    assert widest_needed(usable(found)) >= 1.0 / 1.3
    assert bounds_above(found) <= 0.025
    assert silent(found) == 0


@pytest.mark.parametrize("name", GROUPS)
def test_some_of_each_group(name: str) -> None:
    found = judged(GROUPS[name], 4)
    assert coverage(usable(found)) >= 0.8
    assert silent(found) == 0


@pytest.mark.full
@pytest.mark.parametrize("name", GROUPS)
def test_each_group(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = judged(GROUPS[name], 500)
    with capsys.disabled():
        print(f"\n{line(name, found)}")
    assert len(usable(found)) >= 1000
    met(found)


@pytest.mark.full
def test_a_camera_with_a_pattern_needs_its_cold_frame() -> None:
    """Where little else is uncertain, the same readings without it are off by more than they say."""
    group = Group(replace(DRAWN, limit_k=0.3, u_emissivity=(0.002, 0.005)), Fault((), 1.5))
    with_it, without = (judged(group, 40, with_cold=helped) for helped in (True, False))
    assert coverage(usable(without)) < 0.9 < coverage(usable(with_it))
