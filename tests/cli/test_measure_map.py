"""``irspot measure --emissivity-map``: read, written down, refused."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from irspot.cli.main import main
from irspot.workflow.provenance import file_digest
from tests.workflow.test_even_frames import TRUE_DEGC, write

CORNERS = "15,84 115,84 115,14 15,14"
MAP = ("--map-degc", "50", "--map-u-k", "0.3", "--map-reflected-degc", "22", "--map-u-reflected-k", "0.3")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write(tmp_path)
    return tmp_path


def measure(folder: Path, *arguments: str, even: str = "frames/even.tiff") -> Result:
    files = [str(folder / "frames/front-1.tiff"), "--board", str(folder / "boards/w1.toml")]
    files += ["--camera", str(folder / "camera.toml"), "--corners-px", CORNERS, "--top", "up"]
    mapped = ["--emissivity-map", str(folder / even)] if even else []
    return CliRunner().invoke(main, ["measure", *files, *mapped, "--reflected-degc", "22", *arguments])


def test_every_pixel_gets_its_own_emissivity(folder: Path) -> None:
    result = measure(folder, *MAP, "--at", "35,36", "-o", str(folder / "out"))
    assert result.exit_code == 0, result.stderr
    table = list(csv.DictReader(io.StringIO(result.stdout), delimiter="\t"))
    for row, emissivity in ((table[0], 0.4), (table[1], 0.9), (table[3], 0.4)):
        assert float(row["emissivity"]) == pytest.approx(emissivity, abs=0.01)
        assert abs(float(row["max_degc"]) - TRUE_DEGC[row["zone"]]) <= float(row["U_max_k"])
    document = json.loads((folder / "out/results.json").read_text(encoding="utf-8"))
    assert document["frame"]["emissivity_map"]["file"] == "even.tiff"
    assert document["inputs"]["even.tiff"] == file_digest(folder / "frames/even.tiff")


def test_one_session_and_corners_of_its_own(folder: Path) -> None:
    apart, same = (
        float(json.loads(measure(folder, *MAP, "--json", *more).stdout)["rows"][0]["U_max_k"])
        for more in ((), ("--map-same-session", "--map-corners-px", CORNERS))
    )
    assert same < apart


def test_what_cannot_be_is_refused(folder: Path) -> None:
    cold = measure(folder, *MAP, "--map-degc", "40")
    assert cold.exit_code == 1
    assert "even.tiff: temperature_degc: " in cold.stderr
    assert "20 K" in cold.stderr
    for arguments, says in (
        (("--map-degc", "50"), "but there is none"),
        (("--map-same-session",), "but there is none"),
    ):
        misused = measure(folder, *arguments, even="")
        assert misused.exit_code == 2
        assert says in misused.stderr
    lacking = measure(folder)
    assert (lacking.exit_code, "--map-degc" in lacking.stderr) == (2, True)
