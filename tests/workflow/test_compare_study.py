"""Studies compared end to end: whose numbers are used, what changed, which earlier studies are joined."""

from __future__ import annotations

import csv
import io
import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from irspot.errors import FileInvalid, OutputRefused
from irspot.workflow.compare_study import StudyComparison, compare_studies, write_comparison
from irspot.workflow.run import run_study
from tests.tiny import CORNERS, temperatures, write_tiff, write_tiny

BOARDS = ("cool", "warm", "twin")
DEGC = {"cool": 70.0, "warm": 80.0, "twin": 80.1}


def study_text(extra: str = "") -> str:
    """Describe three boards of one file, in one session."""
    boards = "".join(f'[[board]]\nid = "{name}"\nfile = "boards/w1.toml"\nprice = 100.0\n' for name in BOARDS)
    runs = "".join(
        f'[[run]]\nboard = "{name}"\nload = "stock"\nsession = "monday"\nframes = "frames/{name}.tiff"\n'
        f'corners_px = {CORNERS}\ntop = "up"\nambient_degc = 21.5\nu_ambient_k = 0.1\n'
        for name in BOARDS
    )
    head = 'schema = 1\ntitle = "Three (invented)"\ncamera = "camera.toml"\nreflected_degc = 22.0\n'
    return f'{head}utc_offset = "+00:00"\n{extra}\n{boards}[[load]]\nid = "stock"\n{runs}'


def write_three(folder: Path, extra: str = "") -> Path:
    write_tiny(folder, study_text(extra))
    for name, degc in DEGC.items():
        write_tiff(folder / "frames" / f"{name}.tiff", temperatures(degc))
    return folder / "study.toml"


def compared(*studies: Path, notes: list[str] | None = None) -> StudyComparison:
    with ThreadPoolExecutor(1) as pool:
        return compare_studies(studies, pool, note=[].append if notes is None else notes.append)


def evaluated(study: Path) -> Path:
    out = study.parent / "out"
    with ThreadPoolExecutor(1) as pool:
        run_study(study, out, pool, size=(960, 540), pictures=False)
    return out


def test_measuring_and_reading_results_give_the_same_table(tmp_path: Path) -> None:
    study, notes = write_three(tmp_path), []
    write_comparison(compared(study, notes=notes), tmp_path / "measured")
    out = evaluated(study)
    write_comparison(compared(study, notes=notes), tmp_path / "read")
    table = (tmp_path / "measured" / "compare.csv").read_bytes()
    assert table == (tmp_path / "read" / "compare.csv").read_bytes() == (out / "compare.csv").read_bytes()
    assert "measured, having no results" in notes[0]
    assert "read " in notes[1]
    rows = {r["board"]: r for r in csv.DictReader(io.StringIO(table.decode())) if r["role"] == "power-stage"}
    assert [rows[name]["rank"] for name in BOARDS] == ["1", "2", "2"]
    assert rows["warm"]["tie_group"] == rows["twin"]["tie_group"] != rows["cool"]["tie_group"]
    assert float(rows["cool"]["rise_k"]) == pytest.approx(71.0 - 21.5, abs=0.1)


def test_changed_numbers_are_listed_old_to_new_with_the_reason(tmp_path: Path) -> None:
    study, notes = write_three(tmp_path), []
    evaluated(study)
    write_tiff(tmp_path / "frames" / "warm.tiff", temperatures(84.0))
    made = compared(study, notes=notes).comparison
    assert "frames/warm.tiff" in notes[0]
    changed = {(each.run, each.column): each for each in made.changes if each.zone == "ps"}
    change = changed["warm-stock-front", "max_degc"]
    assert change.new - change.old == pytest.approx(4.0, abs=0.05)
    assert change.reason == "changed: frames/warm.tiff"
    assert {run for run, _ in changed} == {"warm-stock-front"}


def test_frames_that_are_gone_leave_the_numbers_of_their_results(tmp_path: Path) -> None:
    study = write_three(tmp_path)
    out = evaluated(study)
    (tmp_path / "frames" / "cool.tiff").unlink()
    made = compared(study)
    assert not made.problems
    (row,) = [row for row in made.comparison.rows if row.board == "cool" and row.role == "power-stage"]
    assert row.rank == 1
    # Numbers of another METHOD are kept, and not ranked with today's.
    document = json.loads((out / "results.json").read_text(encoding="utf-8"))
    (out / "results.json").write_text(json.dumps(document | {"method": document["method"] - 1}), encoding="utf-8")
    (row,) = [row for row in compared(study).comparison.rows if row.board == "cool" and row.role == "power-stage"]
    assert (row.comparable, row.value_degc) == ("no", pytest.approx(71.0, abs=0.1))
    assert "METHOD" in row.reasons[0]


@pytest.mark.parametrize("text", ["{", "[]", '{"outputs": {}}', '{"study": {"file": "study.toml"}, "inputs": 5}'])
def test_a_broken_results_file_is_no_results(tmp_path: Path, text: str) -> None:
    study, notes = write_three(tmp_path), []
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "results.json").write_text(text)
    assert compared(study, notes=notes).comparison.rankings
    assert "having no results" in notes[0]


def test_earlier_studies_are_joined_once_and_circles_refused(tmp_path: Path) -> None:
    winter = write_three(tmp_path / "winter")
    spring = write_three(tmp_path / "spring", 'previous = ["../winter/study.toml"]\nreference_board = "cool"')
    made = compared(spring, winter)
    assert len(made.studies) == 2
    assert made.comparison.links[0].offset_k == pytest.approx(0.0, abs=1e-6)
    assert len({row.entry for row in made.comparison.rankings[0].rows}) == 6
    write_three(tmp_path / "winter", 'previous = ["../spring/study.toml"]')
    with pytest.raises(FileInvalid, match="lead back"):
        compared(spring)


def test_an_earlier_study_that_is_broken_is_named_and_takes_none_down(tmp_path: Path) -> None:
    (tmp_path / "winter.toml").write_text('schema = 1\ntitel = "x"\n')
    made = compared(write_three(tmp_path / "spring", 'previous = ["../winter.toml"]'))
    assert made.comparison.rankings
    assert any("winter.toml" in str(problem) and "titel" in str(problem) for problem in made.problems)


def test_a_comparison_never_takes_the_place_of_a_whole_studys_results(tmp_path: Path) -> None:
    study = write_three(tmp_path)
    out = evaluated(study)
    with pytest.raises(OutputRefused, match="would be lost"):
        write_comparison(compared(study), out)
    assert (out / "results.csv").is_file()
