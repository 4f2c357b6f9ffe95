"""What a run leaves behind: a complete set, never over an input, never over a stranger's file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from irspot.errors import OutputRefused
from irspot.workflow.outputs import JOURNAL, RESULTS, finish, refuse_inputs, refuse_strangers, write_set


def complete(folder: Path, files: dict[str, bytes]) -> None:
    refuse_strangers(folder, files)
    outputs = write_set(folder, files)
    finish(folder, json.dumps({"outputs": outputs}).encode())


def test_a_set_can_be_made_again_and_loses_what_is_no_longer_made(tmp_path: Path) -> None:
    complete(tmp_path, {"results.csv": b"1", "pictures/a.png": b"a", "pictures/b.png": b"b"})
    complete(tmp_path, {"results.csv": b"2", "pictures/a.png": b"a2"})
    left = sorted(p.relative_to(tmp_path).as_posix() for p in tmp_path.rglob("*") if p.is_file())
    assert left == ["pictures/a.png", "results.csv", RESULTS]
    assert (tmp_path / "results.csv").read_bytes() == b"2"


def test_a_stale_output_that_somebody_edited_is_kept(tmp_path: Path) -> None:
    complete(tmp_path, {"results.csv": b"1", "pictures/b.png": b"b"})
    (tmp_path / "pictures/b.png").write_bytes(b"with my arrows")
    complete(tmp_path, {"results.csv": b"2"})
    assert (tmp_path / "pictures/b.png").read_bytes() == b"with my arrows"


def test_a_strangers_file_is_not_replaced(tmp_path: Path) -> None:
    (tmp_path / "results.csv").write_bytes(b"mine")
    with pytest.raises(OutputRefused, match=r"results\.csv: exists and is not an output"):
        complete(tmp_path, {"results.csv": b"new"})
    (tmp_path / "results.csv").unlink()
    (tmp_path / RESULTS).write_text('{"experiment": 3}')
    with pytest.raises(OutputRefused, match="is not a results file"):
        complete(tmp_path, {"results.csv": b"new"})


def test_an_interrupted_run_can_be_repeated(tmp_path: Path) -> None:
    write_set(tmp_path, {"results.csv": b"1", "pictures/a.png": b"a"})
    assert (tmp_path / JOURNAL).exists(), "not finished: results.json is missing"
    complete(tmp_path, {"results.csv": b"2", "pictures/a.png": b"a"})
    assert not (tmp_path / JOURNAL).exists()


def test_an_input_is_never_written_over(tmp_path: Path) -> None:
    frame = tmp_path / "pictures" / "k7.png"
    frame.parent.mkdir()
    frame.write_bytes(b"raw")
    with pytest.raises(OutputRefused, match="is an input"):
        refuse_inputs(tmp_path, ["pictures/k7.png"], [tmp_path / "other" / ".." / "pictures" / "k7.png"])


def test_a_results_file_that_names_files_elsewhere_removes_nothing_there(tmp_path: Path) -> None:
    import hashlib

    outside = tmp_path / "precious.txt"
    outside.write_bytes(b"precious")
    folder = tmp_path / "out"
    folder.mkdir()
    listed = {"../precious.txt": hashlib.sha256(b"precious").hexdigest()}
    (folder / RESULTS).write_text(json.dumps({"outputs": listed}))
    complete(folder, {"results.csv": b"1"})
    assert outside.read_bytes() == b"precious"
