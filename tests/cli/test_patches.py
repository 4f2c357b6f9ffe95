"""``irspot reflected`` and ``irspot emissivity`` as their user runs them."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from irspot.camera import Band
from irspot.cli.main import main
from irspot.radiometry import apparent_temperature
from tests.tiny import write_tiff

BOARD = """schema = 1
name = "Patches"
[outline]
width_mm = 120.0
height_mm = 90.0
[[zone]]
id = "foil"
rect_mm = [10, 10, 30, 30]
[[zone]]
id = "metal"
rect_mm = [50, 10, 30, 30]
[[zone]]
id = "tape"
rect_mm = [85, 10, 25, 30]
[[zone]]
id = "thin"
rect_mm = [10, 60, 60, 2]
[[zone]]
id = "back"
side = "rear"
rect_mm = [10, 10, 30, 30]
"""
CAMERA = """schema = 1
name = "trial"
[signal]
unit = "K"
scale = 0.01
[accuracy]
limit_k = 0.5
limit_relative = 0.005
"""
METAL = ["--zone", "metal", "--reflected-degc", "27", "--u-reflected-k", "1"]
CORNERS = "10,99 130,99 130,9 10,9"


def seen(surface_degc: float, emissivity: float, reflected_degc: float) -> float:
    return float(
        apparent_temperature(surface_degc, emissivity=emissivity, reflected_degc=reflected_degc, band=Band(8.0, 14.0))
    )


@pytest.fixture
def arguments(tmp_path: Path) -> list[str]:
    """A board with foil of 23 °C, and metal and tape of 70 °C, surrounded by 27 °C."""
    degc = np.full((110, 140), 40.0)
    for x_mm, wide_mm, value in (
        (10, 30, seen(23.0, 0.05, 27.0)),
        (50, 30, seen(70.0, 0.25, 27.0)),
        (85, 25, seen(70.0, 0.95, 27.0)),
    ):
        degc[59:90, 10 + x_mm : 11 + x_mm + wide_mm] = value
    write_tiff(tmp_path / "frame.tiff", degc)
    (tmp_path / "board.toml").write_text(BOARD, encoding="utf-8")
    (tmp_path / "camera.toml").write_text(CAMERA, encoding="utf-8")
    names = [str(tmp_path / name) for name in ("frame.tiff", "board.toml", "camera.toml")]
    return [names[0], "--board", names[1], "--camera", names[2], "--top", "up", "--corners-px", CORNERS]


def run(command: str, *arguments: str) -> Result:
    return CliRunner().invoke(main, [command, *arguments])


def test_foil_tells_what_is_reflected(arguments: list[str]) -> None:
    result = run("reflected", *arguments, "--zone", "foil", "--ambient-degc", "23", "--json")
    assert result.exit_code == 0, result.stderr
    found = json.loads(result.stdout)
    assert found["reflected_degc"] == pytest.approx(27.0, abs=0.1)
    assert 0.2 < found["u_reflected_k"] < 1.0
    assert found["zone"] == "foil"
    plain = run("reflected", *arguments, "--zone", "foil", "--ambient-degc", "23")
    assert plain.stdout.splitlines()[1].startswith("reflected_degc\t27")


def test_a_contact_or_tape_tells_the_emissivity(arguments: list[str]) -> None:
    common = [*arguments, "--zone", "metal", "--reflected-degc", "27", "--u-reflected-k", "1", "--json"]
    for more, way in ((["--contact-degc", "70", "--u-contact-k", "0.5"], "contact"), (["--tape-zone", "tape"], "tape")):
        result = run("emissivity", *common, *more)
        assert result.exit_code == 0, result.stderr
        found = json.loads(result.stdout)
        assert found["emissivity"] == pytest.approx(0.25, abs=0.01)
        assert 0.0 < found["u_emissivity"] < 0.05
        assert found["emissivity_from"] == way
        assert found["surface_degc"] == pytest.approx(70.0, abs=0.2)


@pytest.mark.parametrize(
    ("command", "more", "said", "status"),
    [
        ("reflected", ["--zone", "foyl"], "not on the board's front", 2),
        ("reflected", ["--zone", "back"], "not on the board's front", 2),
        ("reflected", ["--zone", "thin"], "no pixel further than", 2),
        ("reflected", ["--zone", "foil", "--foil-emissivity", "0.9"], "not that of a mirror", 2),
        ("reflected", ["--zone", "foil", "--transmission", "0"], "above 0", 2),
        ("emissivity", METAL, "one of the two", 2),
        ("emissivity", [*METAL, "--contact-degc", "30"], "too near", 2),
        ("emissivity", [*METAL, "--contact-degc", "37.2", "--u-contact-k", "0.1"], "no emissivity", 2),
        ("emissivity", ["--zone", "metal", "--contact-degc", "70"], "--reflected-degc", 2),
    ],
)
def test_wrong_input_is_said(arguments: list[str], command: str, more: list[str], said: str, status: int) -> None:
    result = run(command, *arguments, *more)
    assert result.exit_code == status
    assert said in result.stderr
    assert "Traceback" not in result.stderr
