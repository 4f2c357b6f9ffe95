"""``irspot picture``: every kind from a study and from one frame, its numbers those of the tables."""

from __future__ import annotations

import io
import json
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext
from pathlib import Path

import numpy as np
import pytest
import tifffile
from click.testing import CliRunner, Result
from PIL import Image

from irspot.cli.main import main
from irspot.cli.picture import KINDS
from irspot.workflow.picture_kinds import STILL_KINDS
from irspot.workflow.run import run_study
from tests.tiny import CORNERS, STUDY, temperatures, write_tiny

SIZE = (961, 541)
MORE = f"""
[[run]]
id = "w1-hot-front"
board = "w1"
load = "stock"
side = "front"
frames = "frames/hot.tiff"
corners_px = {CORNERS}
top = "up"
ambient_degc = 22.0
[[run]]
id = "lost"
board = "w1"
load = "stock"
side = "front"
frames = "frames/front-1.tiff"
corners_px = [[15, 84], [16, 84], [17, 84], [15, 14]]
top = "up"
[[run]]
id = "no-air"
board = "w1"
load = "stock"
side = "front"
frames = "frames/warm.tiff"
frame_interval_s = 10.0
corners_px = {CORNERS}
top = "up"
[[run]]
id = "missing"
board = "w1"
load = "stock"
side = "front"
frames = "frames/nowhere-*.tiff"
"""


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("study")
    file = write_tiny(folder, STUDY + MORE)
    frames = [temperatures(50.0 + 6.0 * number, 45.0 + 3.0 * number) for number in range(4)]
    counts = [np.rint((degc + 273.15) * 100.0).astype(np.uint16) for degc in [*frames, temperatures(90.5, 64.0)]]
    tifffile.imwrite(folder / "frames" / "warm.tiff", np.stack(counts[:4]), photometric="minisblack")
    tifffile.imwrite(folder / "frames" / "hot.tiff", counts[4], photometric="minisblack")
    return file


@pytest.fixture(autouse=True)
def _in_this_process(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Start no processes, which takes longer than these small frames; one test does."""
    if "processes" not in request.node.name:
        monkeypatch.setattr("irspot.workflow.picture_source.executor_for", lambda tasks, given: nullcontext(None))


def picture(study: Path, out: Path, *arguments: str, size: tuple[int, int] = SIZE) -> Result:
    return CliRunner().invoke(
        main, ["picture", str(study), "-o", str(out), "--size", "{}x{}".format(*size), *arguments]
    )


def runs(*ids: str) -> list[str]:
    return [part for run_id in ids for part in ("--run", run_id)]


def described(file: Path) -> tuple[Image.Image, str]:
    image = Image.open(io.BytesIO(file.read_bytes()))
    return image, image.text["Description"]  # type: ignore[attr-defined]


CASES = {
    "single": runs("w1-stock-front"),
    "grid": runs("w1-stock-front", "w1-hot-front", "w1-stock-rear"),
    "difference": runs("w1-stock-front", "w1-hot-front"),
    "isotherm": [*runs("w1-stock-front"), "--limit-degc", "55"],
    "board": [*runs("w1-stock-rear"), "--no-axes"],
    "numbers": runs("w1-stock-front"),
    "overlay": [*runs("w1-stock-front"), "--safe", "10", "--frame-opacity", "0.5"],
}


def test_the_kinds_offered_are_the_kinds_there_are() -> None:
    assert set(KINDS) == {*STILL_KINDS, "warm-up"} == {*CASES, "warm-up"}


@pytest.fixture(scope="module")
def results(study: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Every headline of `irspot run`, by run and zone, of each run's last frame."""
    out = tmp_path_factory.mktemp("run")
    with ThreadPoolExecutor(1) as here:
        rows = run_study(study, out, here, pictures=False).rows
    return {f"{row.label.run} {row.reading.zone}": row.reading.headline("°C") for row in rows}


@pytest.mark.parametrize("kind", CASES)
def test_every_kind_has_its_size_and_the_numbers_of_the_table(
    kind: str, study: Path, results: dict[str, str], tmp_path: Path
) -> None:
    size = (1283, 727) if kind == "overlay" else SIZE
    done = picture(study, tmp_path / "p.png", "--as", kind, *CASES[kind], "--alt", str(tmp_path / "p.json"), size=size)
    assert done.exit_code == 0, done.output
    image, alt = described(tmp_path / "p.png")
    assert image.size == size
    about = json.loads((tmp_path / "p.json").read_text(encoding="utf-8"))
    assert (about["kind"], about["size_px"], about["alt"]) == (kind, list(size), alt)
    assert done.stdout.strip() == about["caption"]
    drawn = "".join(about["texts"])
    named = [row for row in about["rows"] if row["zone"] != "elsewhere"]
    assert named
    for row in named:
        headline = results[f"{row['run']} {row['zone']}"]
        if kind == "difference":
            continue
        assert headline in drawn
        assert headline in alt
    if kind == "difference":
        change = {each["zone"]: each for each in about["changes"]}
        before, after = ([r for r in named if r["run"] == i] for i in ("w1-stock-front", "w1-hot-front"))
        for one, other in zip(before, after, strict=True):
            wanted = other["max_degc"] - one["max_degc"]
            assert change[one["zone"]]["change_k"] == pytest.approx(wanted, abs=1.1e-3)  # rows have three decimals
            assert f"+{wanted:.1f} ± " in drawn
            assert f"+{wanted:.1f} ± " in alt


def test_the_only_run_is_single_and_several_are_a_grid(study: Path, tmp_path: Path) -> None:
    assert picture(study, tmp_path / "a.png", *runs("w1-hot-front")).stdout.startswith("Heat image of Wren")
    assert "2 boards" in picture(study, tmp_path / "b.png", *runs("w1-hot-front", "w1-stock-rear")).stdout


def test_one_frame_says_what_measure_says(study: Path, tmp_path: Path) -> None:
    frame, board = study.parent / "frames/front-1.tiff", study.parent / "boards/w1.toml"
    how = ["--board", str(board), "--camera", str(study.parent / "camera.toml"), "--top", "up"]
    how += ["--corners-px", "15,84 115,84 115,14 15,14", "--ambient-degc", "21.5", "--reflected-degc", "22"]
    done = picture(frame, tmp_path / "f.png", *how, "--alt", str(tmp_path / "f.json"))
    assert done.exit_code == 0, done.output
    measured = CliRunner().invoke(main, ["measure", str(frame), *how, "--json"])
    assert measured.exit_code == 0, measured.output
    rows = json.loads(measured.stdout)["rows"]
    drawn = json.loads((tmp_path / "f.json").read_text(encoding="utf-8"))["rows"]
    assert [(r["zone"], r["max_degc"], r["U_max_k"]) for r in rows] == [
        (r["zone"], r["max_degc"], r["U_max_k"]) for r in drawn
    ]


def test_processes_of_their_own_give_the_same_bytes(
    study: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert picture(study, tmp_path / "a.png", *runs("w1-hot-front", "w1-stock-rear")).exit_code == 0
    monkeypatch.setattr("irspot.workflow.picture_source.executor_for", lambda tasks, given: nullcontext(None))
    assert picture(study, tmp_path / "b.png", *runs("w1-hot-front", "w1-stock-rear")).exit_code == 0
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()


def test_a_still_is_chosen_and_the_last_is_the_default(study: Path, tmp_path: Path) -> None:
    for number, value in (("0", "81.0"), ("1", "83.0")):
        done = picture(study, tmp_path / f"{number}.png", *runs("w1-stock-front"), "--still", number)
        assert f" {value} ± " in done.stdout
    assert " 83.0 ± " in picture(study, tmp_path / "last.png", *runs("w1-stock-front")).stdout


def test_what_cannot_be_shown_is_said_in_its_tile_and_costs_the_exit_status(study: Path, tmp_path: Path) -> None:
    done = picture(study, tmp_path / "g.png", *runs("w1-stock-front", "lost", "missing"))
    assert done.exit_code == 1
    assert "wrote" in done.stderr
    assert "run lost" in done.stderr
    assert "run missing" in done.stderr
    assert "not measured" in done.stdout
    assert "lie in one place" in described(tmp_path / "g.png")[1]
    assert "nowhere" in described(tmp_path / "g.png")[1]


@pytest.mark.parametrize("run_id", ["lost", "missing"])
def test_alone_it_is_a_refusal(run_id: str, study: Path, tmp_path: Path) -> None:
    done = picture(study, tmp_path / "s.png", *runs(run_id))
    assert (done.exit_code, done.stdout) == (1, "")
    assert not (tmp_path / "s.png").exists()


def test_without_ambient_the_picture_leaves_it_out(study: Path, tmp_path: Path) -> None:
    done = picture(study, tmp_path / "n.png", *runs("no-air"), "--alt", str(tmp_path / "n.json"))
    assert done.exit_code == 0, done.output
    assert "ambient" not in json.loads((tmp_path / "n.json").read_text(encoding="utf-8"))["texts"]
    both = picture(study, tmp_path / "d.png", "--as", "difference", *runs("no-air", "w1-hot-front"))
    assert both.exit_code == 0, both.output
    assert "air not known" in described(tmp_path / "d.png")[1]


def test_a_text_sidecar_has_caption_and_alt_text(study: Path, tmp_path: Path) -> None:
    done = picture(study, tmp_path / "t.png", *runs("w1-hot-front"), "--alt", str(tmp_path / "t.txt"))
    caption, alt = (tmp_path / "t.txt").read_text(encoding="utf-8").strip().split("\n\n")
    assert caption == done.stdout.strip()
    assert alt == described(tmp_path / "t.png")[1]


def test_nothing_is_written_over(study: Path, tmp_path: Path) -> None:
    (tmp_path / "p.png").write_bytes(b"somebody's")
    done = picture(study, tmp_path / "p.png", *runs("w1-hot-front"))
    assert done.exit_code == 1
    assert "exists already" in done.stderr
    assert (tmp_path / "p.png").read_bytes() == b"somebody's"
    first, second = (picture(study, tmp_path / "q.png", *runs("w1-hot-front")) for _ in range(2))
    assert (first.exit_code, second.exit_code) == (0, 0), "the same bytes may be written again"
    frame = study.parent / "frames" / "hot.png"
    frame.write_bytes(b"x")
    before = (study.parent / "frames" / "hot.tiff").read_bytes()
    assert picture(study, study.parent / "frames" / "hot.tiff", *runs("w1-hot-front")).exit_code == 2
    assert (study.parent / "frames" / "hot.tiff").read_bytes() == before
    frame.unlink()


def test_a_warm_up_in_all_three_forms(study: Path, tmp_path: Path) -> None:
    av = pytest.importorskip("av")
    arguments = ["--as", "warm-up", *runs("no-air"), "--fps", "5"]
    sidecar = tmp_path / "w.json"
    done = picture(study, tmp_path / "w.gif", *arguments, "--alt", str(sidecar), size=(640, 360))
    assert done.exit_code == 0, done.output
    about = json.loads(sidecar.read_text(encoding="utf-8"))
    assert (about["pictures"], about["times_s"]) == (4, [0.0, 10.0, 20.0, 30.0])
    assert {row["time_s"] for row in about["rows"]} == {0.0, 10.0, 20.0, 30.0}
    with Image.open(tmp_path / "w.gif") as gif:
        assert (gif.n_frames, gif.size, gif.info["duration"]) == (4, (640, 360), 200)
    assert picture(study, tmp_path / "w.mp4", *arguments, size=(640, 360)).exit_code == 0
    with av.open(str(tmp_path / "w.mp4")) as video:
        assert [frame.time for frame in video.decode(video=0)] == pytest.approx([0.0, 0.2, 0.4, 0.6])
    assert picture(study, tmp_path / "w.png", *arguments, size=(641, 363)).exit_code == 0
    names = sorted(path.name for path in tmp_path.glob("*.png"))
    assert names == [f"w-{number:04d}.png" for number in range(1, 5)]
    with Image.open(tmp_path / names[0]) as first:
        assert first.size == (641, 363)
    again = picture(study, tmp_path / "w.gif", *arguments, size=(640, 360))
    assert again.exit_code == 1
    assert "exists already" in again.stderr


def test_a_recording_alone_makes_a_warm_up_too(study: Path, tmp_path: Path) -> None:
    how = ["--board", str(study.parent / "boards/w1.toml"), "--camera", str(study.parent / "camera.toml")]
    how += ["--corners-px", "15,84 115,84 115,14 15,14", "--top", "up", "--as", "warm-up"]
    recording = study.parent / "frames/warm.tiff"
    untold = picture(recording, tmp_path / "r.gif", *how, size=(640, 360))
    assert untold.exit_code == 1
    assert "give frame_interval_s" in untold.stderr
    told = picture(recording, tmp_path / "r.gif", *how, "--frame-interval-s", "5", size=(640, 360))
    assert told.exit_code == 0, told.output
    with Image.open(tmp_path / "r.gif") as gif:
        assert gif.n_frames == 2, "one every 10 s of 15 s"


def test_stills_make_a_warm_up_too(study: Path, tmp_path: Path) -> None:
    arguments = ["--as", "warm-up", *runs("w1-stock-front")]
    done = picture(study, tmp_path / "s.png", *arguments, "--alt", str(tmp_path / "s.json"), size=(640, 360))
    assert done.exit_code == 0, done.output
    assert json.loads((tmp_path / "s.json").read_text(encoding="utf-8"))["times_s"] == [0.0, 300.0]


def test_without_pyav_nothing_is_measured_first(study: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "av", None)
    done = picture(study, tmp_path / "w.mp4", "--as", "warm-up", *runs("no-air"), size=(640, 360))
    assert done.exit_code == 1
    assert done.stderr.splitlines() == [
        "irspot: an MP4 needs the library PyAV; run `pip install 'irspot[video]'` (or `pip install av`), or write a GIF"
    ]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (runs("w1-stok-front"), "did you mean 'w1-stock-front'?"),
        (runs("w1-hot-front", "w1-hot-front"), "asked for twice"),
        (["--as", "grid", *runs("w1-hot-front")], "wanted 2 to 12"),
        (["--as", "single", *runs("w1-hot-front", "lost")], "--as grid shows several"),
        (["--as", "difference", *runs("w1-hot-front", "w1-stock-rear")], "different sides"),
        (["--as", "difference", *runs("w1-hot-front", "no-air"), "--cmap", "viridis"], "neutral middle"),
        (["--as", "isotherm", *runs("w1-hot-front")], "--limit-degc"),
        ([*runs("w1-hot-front"), "--span-k", "3"], "--span-k says nothing about --as single"),
        ([*runs("w1-hot-front"), "--fps", "3"], "--fps says nothing about --as single"),
        (["--as", "numbers", *runs("w1-hot-front"), "--cmap", "gray"], "--cmap says nothing"),
        ([*runs("w1-hot-front"), "--cmap", "infern"], "did you mean 'inferno'?"),
        ([*runs("w1-hot-front"), "--still", "3"], "no such still"),
        ([*runs("w1-hot-front"), "--photo-opacity", "0.5"], "no photo"),
        ([*runs("w1-hot-front"), "--top", "up"], "--top is of a single frame"),
        ([*runs("w1-hot-front"), "--board", "b.toml"], "give one of the two"),
        (["--as", "warm-up", *runs("w1-hot-front")], "several frames"),
    ],
)
def test_misuse_is_one_line_that_says_what_is_wanted(
    arguments: list[str], says: str, study: Path, tmp_path: Path
) -> None:
    done = picture(study, tmp_path / "m.png", *arguments)
    assert done.exit_code == 2
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("output", "arguments", "says"),
    [
        ("m.jpg", [], "ends in .png"),
        ("m.avi", ["--as", "warm-up"], "ends in .gif, .mp4 or .png"),
        ("m.mp4", ["--as", "warm-up"], "try --size 962x542"),
        ("m.png", ["--alt", "m.doc"], "ends in .txt or .json"),
        ("m.png", ["--size", "100x100"], "too small"),
    ],
)
def test_files_and_sizes_that_cannot_be_are_refused(
    output: str, arguments: list[str], says: str, study: Path, tmp_path: Path
) -> None:
    done = picture(study, tmp_path / output, *runs("no-air"), *arguments)
    assert done.exit_code == 2
    assert says in done.stderr
    assert not list(tmp_path.iterdir())
