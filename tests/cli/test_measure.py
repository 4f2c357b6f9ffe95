"""``irspot measure`` as its user runs it: table, JSON, files, single places, wrong input."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import numpy as np
import pytest
import tifffile
from click.testing import CliRunner, Result
from PIL import Image

from irspot.cli.main import main
from tests.tiny import temperatures, write_tiff, write_tiny

CORNERS = "15,84 115,84 115,14 15,14"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_tiny(tmp_path)
    return tmp_path


def measure(folder: Path, *arguments: str, frame: str = "frames/front-1.tiff", corners: str = CORNERS) -> Result:
    files = [str(folder / frame), "--board", str(folder / "boards/w1.toml"), "--camera", str(folder / "camera.toml")]
    placed = ["--corners-px", corners] if corners else []
    return CliRunner().invoke(main, ["measure", *files, *placed, *arguments])


def rows(result: Result) -> list[dict[str, str]]:
    assert result.exit_code == 0, result.stderr
    return list(csv.DictReader(io.StringIO(result.stdout), delimiter="\t"))


def test_a_pipe_gets_every_column_as_tsv(folder: Path) -> None:
    table = rows(measure(folder, "--ambient-degc", "21", "--utc-offset", "+01:00"))
    assert [row["zone"] for row in table] == ["ps", "chip", "elsewhere"]
    assert float(table[0]["pixel_max_degc"]) == pytest.approx(81.0, abs=0.01)
    assert float(table[0]["rise_k"]) == pytest.approx(60.0, abs=0.05)
    assert table[0]["time"] == "2026-03-01T11:00:00Z"
    assert table[0]["zone_name"] == "Power stages ≥ µ"


def test_one_place_is_read_on_its_own(folder: Path) -> None:
    table = rows(measure(folder, "--at", "35,36", "--at", "3.2,4.4"))
    assert float(table[3]["pixel_max_degc"]) == pytest.approx(81.0, abs=0.01)
    assert table[3]["zone"] == "ps"
    assert (table[4]["hot_x_px"], table[4]["hot_y_px"]) == ("3.00", "4.00")
    assert measure(folder, "--at", "500,3").exit_code == 2


def test_json_says_how_the_numbers_were_made(folder: Path) -> None:
    document = json.loads(measure(folder, "--json", "--ambient-degc", "21").stdout)
    assert document["frame"]["placement"]["residual_px"] == pytest.approx(0.0, abs=1e-6)
    assert set(document["inputs"]) == {"front-1.tiff", "w1.toml", "camera.toml"}
    assert document["rows"][0]["pixel_max_degc"] == pytest.approx(81.0, abs=0.01)
    assert {term["name"] for term in document["rows"][0]["budget"]} >= {"camera limit", "noise", "emissivity"}


def test_inputs_of_one_name_are_both_listed(folder: Path) -> None:
    twin = folder / "cameras" / "w1.toml"
    twin.parent.mkdir()
    twin.write_bytes((folder / "camera.toml").read_bytes())
    files = [str(folder / "frames/front-1.tiff"), "--board", str(folder / "boards/w1.toml"), "--camera", str(twin)]
    document = json.loads(CliRunner().invoke(main, ["measure", *files, "--corners-px", CORNERS, "--json"]).stdout)
    assert set(document["inputs"]) == {"front-1.tiff", (folder / "boards/w1.toml").as_posix(), twin.as_posix()}
    assert len(set(document["inputs"].values())) == 3


def test_output_folder_holds_table_picture_and_provenance(folder: Path) -> None:
    result = measure(folder, "-o", str(folder / "out"), "--size", "1280x720")
    assert result.exit_code == 0
    with Image.open(folder / "out/pictures/front-1.png") as picture:
        assert picture.size == (1280, 720)
    document = json.loads((folder / "out/results.json").read_text(encoding="utf-8"))
    assert set(document["outputs"]) == {"results.csv", "pictures/front-1.png"}
    again = measure(folder, "-o", str(folder / "out"), "--size", "1280x720")
    assert again.exit_code == 0


def test_a_frame_is_never_written_over(folder: Path) -> None:
    pictures = folder / "pictures"
    pictures.mkdir()
    raw = pictures / "front.png"
    counts = np.rint((temperatures() + 273.15) * 100.0).astype(np.uint16)
    Image.fromarray(counts).save(raw)
    before = raw.read_bytes()
    result = measure(folder, "-o", str(folder), frame="pictures/front.png")
    assert result.exit_code == 1
    assert "is an input" in result.stderr
    assert raw.read_bytes() == before


def test_marks_place_the_board_too(folder: Path) -> None:
    board = folder / "boards/w1.toml"
    marks = [("h2", 95, 5), ("h3", 95, 65), ("h4", 5, 65)]
    text = "".join(f'[[mark]]\nid = "{name}"\nx_mm = {x}\ny_mm = {y}\n' for name, x, y in marks)
    board.write_text(board.read_text(encoding="utf-8") + text, encoding="utf-8")
    points = ["--point", "h1=20,79", "--point", "h2=110,79", "--point", "h3=110,19", "--point", "h4=20,19"]
    table = rows(measure(folder, *points, corners=""))
    assert float(table[0]["hot_x_mm"]) == pytest.approx(20.0, abs=0.05)


def test_without_points_the_board_is_found_or_it_says_what_to_give(folder: Path) -> None:
    result = measure(folder, corners="")
    assert "top" in result.stderr or result.exit_code == 0
    refused = measure(folder, "--top", "left", corners="")
    assert refused.exit_code in (0, 1)
    assert refused.exit_code == 0 or "corners_px" in refused.stderr or "set top" in refused.stderr


def test_a_refused_placement_leaves_empty_rows_in_table_and_files(folder: Path) -> None:
    result = measure(folder, "-o", str(folder / "out"), corners="115,84 15,84 15,14 115,14")
    assert result.exit_code == 1
    assert "rear" in result.stderr
    table = list(csv.DictReader(io.StringIO(result.stdout), delimiter="\t"))
    assert [(row["zone"], row["verdict"], row["max_degc"]) for row in table] == [
        ("ps", "retake", ""),
        ("chip", "retake", ""),
        ("elsewhere", "retake", ""),
    ]
    document = json.loads((folder / "out/results.json").read_text(encoding="utf-8"))
    assert document["frame"]["placement"] is None
    assert set(document["outputs"]) == {"results.csv", "pictures/front-1-placement.png"}
    with Image.open(folder / "out/pictures/front-1-placement.png") as picture:
        assert picture.size == (1920, 1080)
    # Placed the next time, the picture of the refusal goes.
    assert measure(folder, "-o", str(folder / "out")).exit_code == 0
    assert [path.name for path in (folder / "out/pictures").iterdir()] == ["front-1.png"]
    assert set(json.loads(measure(folder, "--json", corners="").stdout)) == {"error"}


def test_corners_given_one_place_on_are_caught_by_top_and_without_it_noted(folder: Path) -> None:
    rotated = "115,84 115,14 15,14 15,84"
    caught = measure(folder, "--top", "up", corners=rotated)
    assert caught.exit_code == 1
    assert "top" in caught.stderr
    assert "without --top" in measure(folder).stderr
    assert "without --top" not in measure(folder, "--top", "up").stderr


def test_json_and_files_say_the_same(folder: Path) -> None:
    result = measure(folder, "--json", "-o", str(folder / "out"), "--size", "1280x720")
    assert result.stdout == (folder / "out/results.json").read_text(encoding="utf-8")


def test_an_uncertain_transmission_widens(folder: Path) -> None:
    window = ("--transmission", "0.9", "--window-degc", "22")
    narrow, wide = (rows(measure(folder, *window, "--u-transmission", u))[0] for u in ("0", "0.05"))
    assert float(wide["U_max_k"]) > float(narrow["U_max_k"]) + 1.0


def test_mirrored_corners_are_refused_with_the_side_they_look_like(folder: Path) -> None:
    result = measure(folder, corners="115,84 15,84 15,14 115,14")
    assert result.exit_code == 1
    assert "rear" in result.stderr


def test_a_file_of_many_frames_asks_which(folder: Path) -> None:
    counts = np.stack([np.rint((temperatures(t) + 273.15) * 100.0).astype(np.uint16) for t in (60.0, 80.0)])
    tifffile.imwrite(folder / "frames/many.tiff", counts, photometric="minisblack")
    refused = measure(folder, frame="frames/many.tiff")
    assert refused.exit_code == 2
    assert "2" in refused.stderr
    table = rows(measure(folder, "--index", "1", frame="frames/many.tiff"))
    assert float(table[0]["pixel_max_degc"]) == pytest.approx(81.0, abs=0.01)


def test_kelvin_declared_as_degc_is_caught(folder: Path) -> None:
    camera = folder / "camera.toml"
    camera.write_text(camera.read_text(encoding="utf-8").replace('unit = "K"', 'unit = "degC"'), encoding="utf-8")
    result = measure(folder)
    assert result.exit_code == 1
    assert '"K"' in result.stderr or "'K'" in result.stderr or "unit = " in result.stderr


def test_a_path_of_any_letters_works(folder: Path) -> None:
    write_tiff(folder / "frames" / "Überlast – 測定.tiff", temperatures())
    assert measure(folder, frame="frames/Überlast – 測定.tiff").exit_code == 0


def test_a_frame_and_its_zones_follow_the_table_on_a_terminal(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    from irspot.cli.console import show_rows
    from tests.exports.test_tables import a_row

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    terminal = Terminal()
    monkeypatch.setattr(sys, "stdout", terminal)
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm-256color")
    show_rows([a_row()], with_run=False)
    text = terminal.getvalue()
    assert "≥ 69.8" in text
    assert "\x1b[3" not in text, "NO_COLOR is honoured"
