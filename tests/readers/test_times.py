from __future__ import annotations

from datetime import UTC, datetime

import pytest

from irspot.readers.times import from_iso, from_name, from_tag

MOMENT = datetime(2026, 3, 1, 14, 23, 5)


@pytest.mark.parametrize(
    "name",
    [
        "20260301-142305.tiff",
        "k7_20260301_142305_front.tiff",
        "k7-2026-03-01_14-23-05.csv",
        "2026-03-01T14.23.05.npy",
        "2026-03-01T142305.npy",
        "2026_03_01 14_23_05.png",
        "IR20260301142305.raw",
        "20260301-142305-0012.tiff",
        "20260301-142305Zone.tiff",
        "20260301-142305_20260301T142305.tiff",
    ],
)
def test_names_without_zone_give_local_time(name):
    assert (from_name(name).local, from_name(name).utc) == (MOMENT, None)


@pytest.mark.parametrize("name", ["20260301-142305Z.tiff", "k7_2026-03-01T14-23-05Z_front.tiff"])
def test_names_with_z_give_utc(name):
    assert (from_name(name).local, from_name(name).utc) == (None, MOMENT.replace(tzinfo=UTC))


@pytest.mark.parametrize(
    "name",
    [
        "k7.tiff",
        "20260301.tiff",
        "20261301-142305.tiff",
        "20260230-142305.tiff",
        "20260301-252305.tiff",
        "120260301142305.raw",
        "202603011423051.raw",
        "20260301-142305_20260301-142306.tiff",
    ],
)
def test_other_names_give_none(name):
    assert not from_name(name).known


@pytest.mark.parametrize("text", ["2026:03:01 14:23:05", "2026:03:01 14:23:05\0", "2026-03-01T14:23:05"])
def test_tags_give_local_time(text):
    assert from_tag(text).local == MOMENT


@pytest.mark.parametrize("text", ["0000:00:00 00:00:00", "", "    :  :     :  :  ", "2026:03:01", "tomorrow"])
def test_unset_tags_give_none(text):
    assert not from_tag(text).known


@pytest.mark.parametrize(
    "text", ["2026-03-01T14:23:05Z", "2026-03-01T16:23:05+02:00", "2026-03-01T09:23:05-05:00", "20260301T142305Z"]
)
def test_iso_with_zone_gives_utc(text):
    assert from_iso(text).utc == MOMENT.replace(tzinfo=UTC)


@pytest.mark.parametrize("text", ["", "noon", "0001-01-01T00:00:00+23:00"])
def test_iso_that_is_no_time_gives_none(text):
    assert not from_iso(text).known
