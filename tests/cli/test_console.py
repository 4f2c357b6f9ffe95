"""What becomes of a job whose output nobody can take: in whole processes, as shells run them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from irspot.cli.main import main
from tests.tiny import write_tiny

IRSPOT = [sys.executable, "-c", "from irspot.cli.main import main; main()"]


def broken_pipe() -> int:
    """Give the writing end of a pipe that nobody reads."""
    reading, writing = os.pipe()
    os.close(reading)
    return writing


def run_into(arguments: list[str], **streams: int) -> subprocess.CompletedProcess[bytes]:
    taken = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **streams}
    return subprocess.run([*IRSPOT, *arguments], check=False, timeout=120, **taken)  # type: ignore[call-overload, no-any-return]


def test_a_run_goes_on_where_nobody_reads_its_messages(tmp_path: Path) -> None:
    study = write_tiny(tmp_path / "s")
    nowhere = broken_pipe()
    done = run_into(["run", str(study), "-o", str(tmp_path / "out"), "--no-pictures"], stderr=nowhere)
    os.close(nowhere)
    assert done.returncode == 0
    assert (tmp_path / "out" / "results.json").is_file()
    assert done.stdout.startswith(b"board\tload\t")


def test_nobody_reading_the_table_is_no_failure(tmp_path: Path) -> None:
    study = write_tiny(tmp_path / "s")
    nowhere = broken_pipe()
    done = run_into(["run", str(study), "-o", str(tmp_path / "out"), "--no-pictures"], stdout=nowhere)
    os.close(nowhere)
    assert done.returncode == 0
    assert b"Traceback" not in done.stderr
    assert b"Exception" not in done.stderr
    assert (tmp_path / "out" / "results.json").is_file()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device that is always full is a speciality of Linux")
def test_no_room_for_the_table_is_one_line_and_exit_one() -> None:
    with Path("/dev/full").open("wb") as full:
        done = run_into(["schema", "board"], stdout=full.fileno())
    assert done.returncode == 1
    (line,) = done.stderr.decode().splitlines()
    assert line.startswith("irspot: ")
    assert "No space left" in line


@pytest.mark.parametrize(
    ("arguments", "key"),
    [
        (["measure", "f.tiff", "--board", "b.toml", "--ambient-degc", "warm", "--json"], "--ambient-degc"),
        (["measure", "f.tiff", "--json"], "--board"),
        (["measure", "f.tiff", "--board", "b.toml", "--json", "--no-such-option"], ""),
        (["run", "--json", "study.toml"], "--output"),
    ],
)
def test_misuse_with_json_is_an_error_object_too(arguments: list[str], key: str) -> None:
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 2
    error = json.loads(result.stdout)["error"]
    assert set(error) == {"code", "file", "key", "message"}
    assert (error["code"], error["key"]) == ("usage", key)
    assert error["message"]
    assert "Usage:" in result.stderr
