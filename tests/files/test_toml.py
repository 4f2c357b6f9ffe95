from __future__ import annotations

import os
import time

import pytest

from irspot.errors import FileInvalid
from irspot.files import board_problems, read_board, read_study
from irspot.files.toml import MAX_BYTES
from tests.files import samples

GOOD = samples.toml(samples.BOARD)


def problem_of(tmp_path, data: bytes):
    path = tmp_path / "b.toml"
    path.write_bytes(data)
    (problem,) = board_problems(path)
    assert problem.severity == "error"
    assert "\n" not in str(problem)
    return problem


@pytest.mark.parametrize("data", [b"\xef\xbb\xbf" + GOOD.encode(), GOOD.replace("\n", "\r\n").encode()])
def test_byte_order_mark_and_windows_lines_change_nothing(tmp_path, data):
    (tmp_path / "plain.toml").write_text(GOOD, encoding="utf-8")
    (tmp_path / "other.toml").write_bytes(data)
    assert read_board(tmp_path / "other.toml") == read_board(tmp_path / "plain.toml")


@pytest.mark.parametrize(
    ("text", "place", "hint"),
    [
        ("schema = 1\nname = Kestrel\n", "line 2, column 8", "text stands between quotation marks"),
        ('schema = 1\nname = "C:\\camera"\n', "line 2, column 13", "write paths with '/', or between single"),
        ("schema = 1\nschema = 1\n", "line 2, column 11", ""),
        ("a = [1,\n", "end of document", ""),
    ],
)
def test_syntax_errors_give_line_and_column(tmp_path, text, place, hint):
    problem = problem_of(tmp_path, text.encode())
    assert problem.key == place
    assert problem.message.startswith("is not valid TOML: ")
    assert problem.hint.startswith(hint)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b'schema = 1\nname = "caf\xe9"\n', "line 2: is not UTF-8 text (found byte 0xE9)"),
        ("schema = 1\n".encode("utf-16"), "is not UTF-8 text"),
        (b"a = " + b"[" * 100_000, "is nested too deeply"),
        (b"a = " + b"{a=" * 100_000, "is nested too deeply"),
        (b"\n" + b".".join([b"a"] * 40_000) + b" = 1", "line 2: a key has more than 32 parts"),
        (b"[" + b" . ".join([b'"a"'] * 40_000) + b"]", "line 1: a key has more than 32 parts"),
        (b"schema = " + b"1" * 5000, "is not valid TOML"),
        (b"\x00", "is not valid TOML"),
        (b"a = 1\r", "is not valid TOML"),
        (b"#" * (MAX_BYTES + 1), "is too large"),
    ],
)
def test_hostile_files_are_one_line_errors(tmp_path, data, says):
    started = time.monotonic()
    assert says in str(problem_of(tmp_path, data))
    # Not a speed test: without the guards these take minutes, or never end.
    assert time.monotonic() - started < 20.0


def test_hostile_numbers_and_keys(tmp_path):
    key = f'"a\\u001b[31m{"k" * 500}"'
    text = f"schema = 0x{'f' * 9000}\nname = inf\n{key} = 1\n[outline]\nwidth_mm = nan\nheight_mm = 1e999\n"
    (tmp_path / "b.toml").write_text(text)
    problems = board_problems(tmp_path / "b.toml")
    assert [p.severity for p in problems] == ["error"] * 5 + ["warning"]
    for problem in problems:
        assert str(problem).isprintable()
        assert len(str(problem)) < 500 + len(str(tmp_path))


def test_very_many_problems_are_cut_short(tmp_path):
    text = GOOD + "".join(f"\n[x{i}]" for i in range(5000))
    (tmp_path / "b.toml").write_text(text)
    problems = board_problems(tmp_path / "b.toml")
    assert len(problems) == 1001
    assert "5000 problems in all" in problems[-1].message


def test_what_is_no_file(tmp_path):
    assert "no such file" in str(board_problems(tmp_path / "none.toml")[0])
    assert "is a directory" in str(board_problems(tmp_path)[0])
    assert "cannot be read" in str(board_problems(tmp_path / ("x" * 5000))[0])
    assert "cannot be read" in str(board_problems("a\0b")[0])


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no named pipes")
def test_a_pipe_is_refused_without_waiting(tmp_path):
    os.mkfifo(tmp_path / "pipe.toml")
    assert "not a plain file" in str(board_problems(tmp_path / "pipe.toml")[0])


def test_a_study_is_read_as_guardedly(tmp_path):
    with pytest.raises(FileInvalid, match="no such file"):
        read_study(tmp_path / "none.toml")
