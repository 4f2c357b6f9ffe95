"""Imports point only to lower layers, or within one package; heavy libraries are not loaded before they are needed."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from tests.tiny import write_tiny

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "irspot"

LAYERS = (
    ("errors", "constants", "flag", "flags", "run_flags", "version"),
    (
        "atomic",
        "opencv",
        "shapes",
        "camera",
        "camera_error",
        "frame",
        "board",
        "placing",
        "standard_boards",
        "photo",
        "study",
        "conditions",
        "uncertain",
        "freedom",
        "even_frame",
        "results",
        "series",
        "steady_rules",
        "witnesses",
        "two_views",
        "columns",
        "color_picture",
        "color_wish",
    ),
    ("readers", "decoding", "files", "logs", "radiometry"),
    ("registration", "layout"),
    ("measurement", "synthetic"),
    ("compare", "crosscheck", "soak"),
    ("rendering", "exports"),
    ("workflow", "api"),
    ("cli",),
)
# The library's verbs share their layer with the workflow, which draws through them.
SAME_LAYER_ALLOWED = {("workflow", "api"), ("api", "workflow")}


def _layer_of(part: str) -> int:
    for number, parts in enumerate(LAYERS):
        if part in parts:
            return number
    raise AssertionError(f"irspot.{part} stands in no layer; put it into LAYERS and DEVELOPERS.md")


def _modules() -> list[Path]:
    return sorted(path for path in PACKAGE.rglob("*.py") if path != PACKAGE / "__init__.py")


def _part(path: Path) -> str:
    first = path.relative_to(PACKAGE).parts[0]
    return first.removesuffix(".py")


def _imported_parts(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            names = [node.module or ""]
            if node.module == "irspot":
                names = [f"irspot.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        else:
            continue
        found |= {name.split(".")[1] for name in names if name.startswith("irspot.")}
    return found


@pytest.mark.parametrize("path", _modules(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_point_down(path: Path) -> None:
    mine = _part(path)
    for other in _imported_parts(path):
        if other == mine or (mine, other) in SAME_LAYER_ALLOWED:
            continue
        if _layer_of(mine) <= 1 and _layer_of(other) <= 1:
            # Values of the lowest layers may use one another; a cycle between them would not import at all.
            continue
        assert _layer_of(other) < _layer_of(mine), f"irspot.{mine} imports irspot.{other}"


@pytest.mark.parametrize("path", _modules(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_modules_stay_short(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 420


HEAVY = ("cv2", "scipy", "skimage", "matplotlib", "rich", "pydantic", "numpy", "tifffile", "PIL")


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["measure", "--help"], ["run", "--help"]])
def test_help_loads_no_heavy_library(arguments: list[str]) -> None:
    code = (
        "import sys\n"
        "from irspot.cli.main import main\n"
        f"try:\n    main({arguments!r})\nexcept SystemExit as stop:\n    assert not stop.code, stop.code\n"
        f"print(sorted(set({HEAVY!r}) & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_measuring_one_frame_loads_what_it_needs(tmp_path: Path) -> None:
    write_tiny(tmp_path)
    frame, board = tmp_path / "frames" / "front-1.tiff", tmp_path / "boards" / "w1.toml"
    arguments = ["measure", str(frame), "--board", str(board), "--camera", str(tmp_path / "camera.toml")]
    arguments += ["--corners-px", "15,84 115,84 115,14 15,14", "--top", "up"]
    code = (
        "import sys\n"
        "from irspot.cli.main import main\n"
        f"try:\n    main({arguments!r})\nexcept SystemExit as stop:\n    assert not stop.code, stop.code\n"
        f"print(sorted(set({HEAVY!r}) & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.splitlines()[-1] == "['cv2', 'numpy', 'tifffile']"


def test_top_level_holds_only_what_it_may() -> None:
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "irspot", "tests", "sample_images", "LICENSE"}
    listed = subprocess.run(["git", "ls-files"], capture_output=True, text=True, cwd=ROOT, check=False)
    if listed.returncode != 0:
        pytest.skip("not a git checkout: the listing of tracked files is not to be had")
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {name for name in top - allowed if not name.startswith(".")} == set()
