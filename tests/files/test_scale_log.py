"""The log of a video's colour scale: read with every mistake at its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from irspot.errors import FileInvalid
from irspot.files import read_scale_log

from . import samples
from .test_study import read

GOOD = "time_s,low_degc,high_degc\n0,20,60\n12.5, 25.5 ,95\n\n30,-10,40\n"


def log(folder: Path, text: str) -> Path:
    path = folder / "scale.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_lines_hold_from_their_time_on(tmp_path: Path) -> None:
    read_log = read_scale_log(log(tmp_path, GOOD))
    assert read_log.times_s == (0.0, 12.5, 30.0)
    assert read_log.ends_degc == ((20.0, 60.0), (25.5, 95.0), (-10.0, 40.0))


def test_columns_may_stand_in_any_order_and_after_a_byte_order_mark(tmp_path: Path) -> None:
    read_log = read_scale_log(log(tmp_path, "\ufeffhigh_degc,time_s,low_degc\n60,1,20\n"))
    assert (read_log.times_s, read_log.ends_degc) == ((1.0,), ((20.0, 60.0),))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "holds no line"),
        ("time_s,low_degc,high_degc\n", "holds no line of numbers"),
        ("time,low,high\n0,20,60\n", "line 1: has other columns (found 'time,low,high'"),
        ("0,20,60\n1,20,70\n", "line 1: has other columns"),
        ("time_s,low_degc,high_degc\n0,20\n", "line 2: has another number of columns (found 2; wanted 3)"),
        ("time_s,low_degc,high_degc\n0,20,60\n5,warm,60\n", "line 3: low_degc is no number that can be used"),
        ("time_s,low_degc,high_degc\n0,20,nan\n", "line 2: high_degc is no number that can be used (found 'nan'"),
        ("time_s,low_degc,high_degc\n-1,20,60\n", "line 2: time_s is no number that can be used"),
        ("time_s,low_degc,high_degc\n0,-300,60\n", "line 2: low_degc is no number that can be used"),
        ("time_s,low_degc,high_degc\n0,60,60\n", "line 2: the low end must be below the high end"),
        ("time_s,low_degc,high_degc\n5,20,60\n5,20,70\n", "line 3: times must rise (found 5 s; wanted a time after 5"),
    ],
)
def test_mistakes_are_told_with_file_and_line(tmp_path: Path, text: str, said: str) -> None:
    path = log(tmp_path, text)
    with pytest.raises(FileInvalid) as refused:
        read_scale_log(path)
    lines = [str(problem) for problem in refused.value.problems()]
    assert any(f"{path}: {said}" in line for line in lines), lines


def test_all_mistakes_are_told_at_once_but_not_without_end(tmp_path: Path) -> None:
    with pytest.raises(FileInvalid) as refused:
        read_scale_log(log(tmp_path, "time_s,low_degc,high_degc\n0,a,60\n1,20,10\n2,20,60\n1,20,60\n"))
    assert [problem.key for problem in refused.value.problems()] == ["line 2", "line 3", "line 5"]
    with pytest.raises(FileInvalid) as refused:
        read_scale_log(log(tmp_path, "time_s,low_degc,high_degc\n" + "x,1,2\n" * 5000))
    assert len(refused.value.problems()) == 20


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"\x00" * 64, b'"' * 5000])
def test_what_is_no_text_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "scale.csv"
    path.write_bytes(content)
    with pytest.raises(FileInvalid):
        read_scale_log(path)
    with pytest.raises(FileInvalid, match="no such file"):
        read_scale_log(tmp_path / "other.csv")


def test_a_study_names_a_log_relative_to_itself(tmp_path: Path) -> None:
    log(tmp_path, GOOD)
    scale = read(tmp_path, samples.study(0, color_scale_degc="scale.csv")).runs[0].color_scale_degc
    assert scale == read_scale_log(tmp_path / "scale.csv")


def test_a_bad_log_makes_the_run_bad_and_is_named(tmp_path: Path) -> None:
    path = log(tmp_path, "time_s,low_degc,high_degc\n0,60,20\n")
    study = read(tmp_path, samples.study(0, color_scale_degc="scale.csv"))
    problems = [problem for bad in study.bad_runs for problem in bad.problems]
    assert [(problem.file, problem.key) for problem in problems] == [(str(path), "line 2")]


@pytest.mark.parametrize("given", ["printd", "scale.txt", [95.0, 20.0]])
def test_other_words_and_turned_ends_are_refused(tmp_path: Path, given: object) -> None:
    try:
        study = read(tmp_path, samples.study(0, color_scale_degc=given))
        problems = [problem for bad in study.bad_runs for problem in bad.problems]
    except FileInvalid as invalid:
        problems = list(invalid.problems())
    assert any("color_scale_degc" in problem.key for problem in problems)
