"""``irspot zones-from`` and ``measure --hottest`` as their user types them."""

from __future__ import annotations

import json
import random
from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile
from click.testing import CliRunner, Result

from irspot.cli.main import main
from irspot.files import read_board
from tests.layout.drawings import gerber
from tests.layout.parts import BOARD, PARTS
from tests.tiny import CAMERA

LIST = "Ref,X (mm),Y (mm),Rot,Side,Package\n" + "".join(
    f"{part.ref},{part.x_mm},{part.y_mm},{part.rotation_deg},{part.side},{part.package}\n" for part in PARTS
)


def invoke(*arguments: object) -> Result:
    result = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "parts.csv").write_text(LIST, encoding="utf-8")
    (tmp_path / "d1.toml").write_text(BOARD, encoding="utf-8")
    return tmp_path


def test_without_an_output_the_zones_are_printed(folder: Path) -> None:
    result = invoke("zones-from", "parts.csv", "--board", "d1.toml", "--bottom", "as-listed")
    assert result.exit_code == 0, result.stderr
    header, *rows = [line.split("\t") for line in result.stdout.splitlines()]
    assert [row[0] for row in rows] == [part.ref for part in PARTS]
    assert dict(zip(header, rows[1], strict=True)) | {} == {
        "zone": "Q2",
        "side": "front",
        "role": "",
        "x_mm": "18.000",
        "y_mm": "60.000",
        "across_x_mm": "5.000",
        "across_y_mm": "6.000",
        "height_mm": "0.900",
    }
    assert (folder / "d1.toml").read_text(encoding="utf-8") == BOARD
    assert "irspot: unit mm\n" in result.stderr


def test_zones_are_added_to_a_board_file_and_only_once(folder: Path) -> None:
    first = invoke("zones-from", "parts.csv", "-o", "d1.toml", "--only", "Q*,L*", "--role", "Q*=power-stage")
    assert (first.exit_code, first.stdout) == (0, "")
    assert [zone.id for zone in read_board(folder / "d1.toml").zones] == ["patch", "Q1", "Q2", "L1"]
    before = (folder / "d1.toml").read_bytes()
    second = invoke("zones-from", "parts.csv", "-o", "d1.toml", "--only", "Q*,U7")
    assert second.exit_code == 1
    assert "has zones of these ids already (found 2: Q1, Q2)" in second.stderr
    assert (folder / "d1.toml").read_bytes() == before
    third = invoke("zones-from", "parts.csv", "-o", "d1.toml", "--only", "Q*,U7", "--replace", "--json")
    assert [zone["id"] for zone in json.loads(third.stdout)["zones"]] == ["Q1", "Q2", "U7"]
    assert json.loads(third.stdout)["written"] == ["d1.toml"]
    assert {zone.id: zone.role for zone in read_board(folder / "d1.toml").zones}["Q1"] == "power-stage"


def test_a_refused_list_is_shown_in_the_preview_and_nothing_else_is_written(folder: Path) -> None:
    wrong = LIST.replace("X (mm),Y (mm)", "X,Y")
    (folder / "parts.csv").write_text(wrong, encoding="utf-8")
    job = ("zones-from", "parts.csv", "--board", "d1.toml", "-o", "new.toml", "--side", "front", "--preview", "p.png")
    asked = invoke(*job)
    assert (asked.exit_code, asked.stdout) == (1, "")
    assert asked.stderr.endswith("say --unit mm\n")
    refused = invoke(*job, "--unit", "inch")
    assert refused.exit_code == 1
    assert refused.stderr.endswith("the list fits with --unit mm\n")
    assert not (folder / "new.toml").exists()
    of_refusal = (folder / "p.png").read_bytes()
    assert cv2.imread("p.png").shape == (1080, 1920, 3)
    taken = invoke(*job, "--unit", "mm", "--size", "800x800")
    assert taken.exit_code == 0, taken.stderr
    assert (folder / "p.png").read_bytes() != of_refusal, "a preview is drawn anew"
    assert cv2.imread("p.png").shape == (800, 800, 3)


def test_a_preview_goes_over_nothing_else(folder: Path) -> None:
    cv2.imwrite("photo.png", np.zeros((8, 8, 3), np.uint8))
    before = (folder / "photo.png").read_bytes()
    job = ("zones-from", "parts.csv", "--board", "d1.toml", "--side", "front", "--preview")
    over = invoke(*job, "photo.png")
    assert (over.exit_code, (folder / "photo.png").read_bytes()) == (1, before)
    assert "is there already and is no preview" in over.stderr
    assert invoke(*job, "d1.toml").exit_code == 2


def test_an_outline_alone_makes_a_board(folder: Path) -> None:
    pytest.importorskip("gerbonara")
    (folder / "edge.gbr").write_text(gerber(), encoding="utf-8")
    result = invoke("zones-from", "edge.gbr", "-o", "new.toml", "--name", "Knot K1")
    assert result.exit_code == 0, result.stderr
    assert "outline 100.00 x 60.00 mm" in result.stderr
    board = read_board(folder / "new.toml")
    assert (board.name, board.zones) == ("Knot K1", ())
    assert invoke("zones-from", "edge.gbr", "-o", "new.toml").exit_code == 2


@pytest.mark.parametrize(
    "arguments",
    [
        ("--size-mm", "100"),
        ("--size-mm", "0x4"),
        ("--origin", "middle"),
        ("--role", "Q*"),
        ("--point", "Q1"),
        ("--unit", "furlong"),
        ("--bottom", "left"),
        ("--size-mm", "100x70", "--origin", "lower-left", "--point", "Q1=1,2", "--point", "U7=3,4"),
        ("--size-mm", "100x70", "--with-sites"),
        ("--size-mm", "100x70", "--fit", "--unit", "mm"),
        (),
    ],
)
def test_misuse_exits_with_two(arguments: tuple[str, ...], folder: Path) -> None:
    result = invoke("zones-from", "parts.csv", *arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "Traceback" not in result.stderr


def test_control_characters_of_a_list_never_reach_the_terminal(folder: Path) -> None:
    (folder / "p\x1b[31m.csv").write_text("Ref,X\x07 (mm),Y (mm),Package\nQ\x1b[2J1,10,10,P_5x5mm\n", encoding="utf-8")
    result = invoke("zones-from", "p\x1b[31m.csv", "--size-mm", "100x70", "-o", "new.toml")
    assert result.exit_code == 0, result.stderr
    assert "becomes 'Q--2J1'" in result.stderr
    assert all(character.isprintable() or character == "\n" for character in result.stderr)
    assert (folder / "new.toml").read_text(encoding="utf-8").startswith("# Zones of the parts in p?[31m.csv.\n")


def test_the_hottest_ten_parts_are_named_in_order(folder: Path) -> None:
    # Sixty parts of 5 x 5 mm at 1 px a mm, each at its own temperature; the list knows only places and names.
    places = [(9.0 + 8.0 * (i % 10), 9.0 + 10.0 * (i // 10)) for i in range(60)]
    rng = random.Random(7)
    temperatures = [30.0 + 0.9 * i for i in range(60)]
    rng.shuffle(temperatures)
    degc = np.full((97, 131), 25.0)
    for (x, y), temperature in zip(places, temperatures, strict=True):
        column, row = round(15 + x), round(84 - y)
        degc[row - 2 : row + 3, column - 2 : column + 3] = temperature
    tifffile.imwrite("frame.tiff", np.round((degc + 273.15) * 100.0).astype(np.uint16))
    (folder / "camera.toml").write_text(CAMERA, encoding="utf-8")
    rows = [f"U{i + 1},{x},{y},T,P_5x5mm" for i, (x, y) in enumerate(places)]
    (folder / "sixty.csv").write_text("\n".join(["Ref,X (mm),Y (mm),Side,Package", *rows]), encoding="utf-8")
    assert invoke("zones-from", "sixty.csv", "--size-mm", "100x70", "-o", "w.toml").exit_code == 0
    measured = ("measure", "frame.tiff", "--board", "w.toml", "--camera", "camera.toml", "--top", "up")
    corners = ("--corners-px", "15,84 115,84 115,14 15,14")
    result = invoke(*measured, *corners, "--hottest", "10")
    header, *lines = [line.split("\t") for line in result.stdout.splitlines()]
    truth = sorted(range(60), key=lambda i: -temperatures[i])[:10]
    assert [line[header.index("zone")] for line in lines] == [f"U{i + 1}" for i in truth]
    as_json = invoke(*measured, *corners, "--hottest", "3", "--json")
    assert [row["zone"] for row in json.loads(as_json.stdout)["rows"]] == [f"U{i + 1}" for i in truth[:3]]
    assert len(invoke(*measured, *corners).stdout.splitlines()) == 62
