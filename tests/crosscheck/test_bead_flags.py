"""Flags of beads explain themselves, and none has the name of a reading's flag with another meaning."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import irspot.crosscheck
from irspot.crosscheck import BEAD_FLAGS, reason_and_remedy, sorted_bead_flags
from irspot.flags import FLAGS


@pytest.mark.parametrize("flag", BEAD_FLAGS.values(), ids=lambda flag: flag.name)
def test_every_flag_explains_itself(flag) -> None:
    assert flag.reason.endswith(".")
    assert not flag.remedy or flag.remedy.endswith(".")
    assert flag.name not in FLAGS
    assert reason_and_remedy(flag.name) == (flag.reason, flag.remedy)


def test_flags_are_listed_once_and_sorted() -> None:
    assert list(BEAD_FLAGS) == sorted(BEAD_FLAGS)
    assert sorted_bead_flags(["lost", "clipped", "lost"]) == ("clipped", "lost")
    with pytest.raises(KeyError):
        sorted_bead_flags(["losst"])


def test_every_flag_is_used_or_left_to_who_writes_the_table() -> None:
    folder = Path(irspot.crosscheck.__file__).parent
    text = "".join(path.read_text(encoding="utf-8") for path in folder.glob("*.py") if path.name != "bead_flags.py")
    used = set(re.findall(r'"([a-z-]+)"', text))
    # These follow from calls of the package, not from within it.
    assert set(BEAD_FLAGS) - used == {"clock-offset-given", "clock-offset-unknown", "sampled-slowly"}
