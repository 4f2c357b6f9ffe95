from __future__ import annotations

import unicodedata

import pytest

from irspot.files.frame_files import find_frames, why_nothing


@pytest.fixture
def folder(tmp_path):
    for name in (
        "a-10.tiff",
        "a-2.tiff",
        "A-1.TIFF",
        ".a-3.tiff",
        "b [1].png",
        "b 1.png",
        "é.npy",
        "sub1/x.csv",
        "Sub2/y.csv",
    ):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    return tmp_path


@pytest.mark.parametrize(
    ("pattern", "names"),
    [
        ("a-*.tiff", ["A-1.TIFF", "a-2.tiff", "a-10.tiff"]),
        ("A-?.Tiff", ["A-1.TIFF", "a-2.tiff"]),
        ("a-1[0-9].tiff", ["a-10.tiff"]),
        ("a-2.TIFF", ["a-2.tiff"]),
        ("b [1].png", ["b [1].png"]),
        ("b ?.png", ["b 1.png"]),
        ("sub*/*.csv", ["x.csv", "y.csv"]),
        ("**/*.csv", ["x.csv", "y.csv"]),
        (".*.tiff", [".a-3.tiff"]),
        ("sub1/../a-2.tiff", ["a-2.tiff"]),
        ("*", ["A-1.TIFF", "a-2.tiff", "a-10.tiff", "b 1.png", "b [1].png", "é.npy"]),
        ("sub1", []),
        ("none-*.tiff", []),
        ("x" * 2000, []),
    ],
)
def test_patterns(folder, pattern, names):
    assert [path.name for path in find_frames(folder, pattern)] == names


def test_an_absolute_pattern(folder, tmp_path):
    assert [path.name for path in find_frames(tmp_path / "elsewhere", str(folder / "a-2*"))] == ["a-2.tiff"]


def test_accents_match_however_they_are_stored(tmp_path):
    (tmp_path / unicodedata.normalize("NFD", "é-1.npy")).touch()
    assert len(find_frames(tmp_path, unicodedata.normalize("NFC", "é-*.npy"))) == 1


def test_why_nothing_matches(folder):
    assert why_nothing(folder, "frames\\a-*.tiff") == "write paths with '/'"
    assert "no folder" in why_nothing(folder, "frames/a-*.tiff")
    assert why_nothing(folder, "sub1/*.tiff") == "the folder holds 1 other file, such as 'x.csv'"
    (folder / "empty").mkdir()
    assert "holds no files" in why_nothing(folder, "empty/*")
