"""The verdict follows from the flags by one table."""

from __future__ import annotations

import pytest

from irspot.flags import FLAGS, VERDICTS, deciding, sorted_flags, verdict_of


def test_no_flag_means_usable_and_the_worst_flag_decides() -> None:
    assert verdict_of([]) == "usable"
    assert verdict_of(["emissivity-assumed"]) == "usable"
    assert verdict_of(["clipped", "emissivity-assumed"]) == "lower bound"
    assert verdict_of(["clipped", "outside-frame"]) == "retake"


def test_a_flag_nobody_defined_is_refused() -> None:
    with pytest.raises(KeyError):
        verdict_of(["clippd"])
    with pytest.raises(KeyError):
        sorted_flags(["clippd"])


def test_flags_are_listed_once_and_sorted() -> None:
    assert sorted_flags(["few-pixels", "clipped", "few-pixels"]) == ("clipped", "few-pixels")
    assert list(FLAGS) == sorted(FLAGS)


@pytest.mark.parametrize("flag", FLAGS.values(), ids=lambda flag: flag.name)
def test_every_flag_explains_itself(flag) -> None:
    assert flag.verdict in VERDICTS
    assert flag.reason.endswith(".")
    assert ";" not in flag.name
    if flag.verdict != "usable":
        assert flag.remedy.endswith("."), "a verdict that costs something says what to do"


def test_what_decides_a_verdict_has_a_word_for_pictures_a_remedy_and_nothing_else_has() -> None:
    for flag in FLAGS.values():
        assert bool(flag.short) == (flag.verdict != "usable"), flag.name
        assert len(flag.short) <= 14, flag.name
        assert flag.remedy or flag.verdict == "usable", flag.name


def test_only_the_worst_decides() -> None:
    names = [flag.name for flag in deciding(["clipped", "no-pixels", "emissivity-assumed", "not-placed"])]
    assert names == ["no-pixels", "not-placed"]
    assert deciding(["emissivity-assumed"]) == ()
