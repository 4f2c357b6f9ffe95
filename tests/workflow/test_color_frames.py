"""Colour-mapped frames go through the same job as radiometric ones, and give the same numbers within their own u."""

from __future__ import annotations

import csv
import io
import json
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

import irspot
from irspot.cli.main import main
from irspot.readers import open_frames, read_frame
from irspot.synthetic.color_frames import ColorFrame, encode, render
from irspot.synthetic.color_style import BarPlace, ColorStyle, Labels, Shade
from tests.tiny import STUDY, temperatures, write_tiny

CORNERS = "15,84 115,84 115,14 15,14"
LOW, HIGH = 20.0, 90.0


def picture(degc: np.ndarray, **style: object) -> ColorFrame:
    """The tiny scene with free room to its right for the bar; px of the board stay as they are."""
    wide = np.pad(degc, ((0, 60), (0, 90)), constant_values=22.0)
    chosen: dict[str, object] = {"place": BarPlace("right", length=0.8, thickness_px=12), **style}
    return render(wide, LOW, HIGH, ColorStyle(**chosen))  # type: ignore[arg-type]


def save(folder: Path, name: str, frame: ColorFrame, kind: str = "png") -> Path:
    path = folder / "frames" / name
    path.write_bytes(encode(frame.rgb, kind, 90))  # type: ignore[arg-type]
    return path


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_tiny(tmp_path)
    # Its own [signal] is of the radiometric frames; the pictures need none of it.
    return tmp_path


def measure(folder: Path, frame: str, *arguments: str) -> Result:
    files = [str(folder / "frames" / frame), "--board", str(folder / "boards/w1.toml")]
    files += ["--camera", str(folder / "camera.toml"), "--corners-px", CORNERS]
    return CliRunner().invoke(main, ["measure", *files, *arguments])


def rows(result: Result) -> dict[str, dict[str, str]]:
    assert result.exit_code == 0, result.stderr
    return {row["zone"]: row for row in csv.DictReader(io.StringIO(result.stdout), delimiter="\t")}


@pytest.mark.parametrize(
    ("cmap", "kind"), [("inferno", "png"), ("viridis", "png"), ("turbo", "png"), ("inferno", "jpeg")]
)
def test_a_picture_is_measured_like_a_radiometric_frame(folder: Path, cmap: str, kind: str) -> None:
    name = f"front.{kind}"
    save(folder, name, picture(temperatures(), cmap=cmap), kind)
    zones = rows(measure(folder, name, "--low", str(LOW), "--high", str(HIGH)))
    tolerance = 0.01 * (HIGH - LOW) if kind == "jpeg" else 0.004 * (HIGH - LOW)
    assert float(zones["ps"]["max_degc"]) == pytest.approx(81.0, abs=tolerance)
    assert float(zones["chip"]["mean_degc"]) == pytest.approx(60.0, abs=tolerance)


def test_the_decoding_is_a_term_of_the_budget(folder: Path) -> None:
    save(folder, "front.png", picture(temperatures()))
    result = measure(folder, "front.png", "--low", str(LOW), "--high", str(HIGH), "--json")
    document = json.loads(result.stdout)
    terms = {term["name"]: term for term in document["rows"][0]["budget"]}
    assert 0.0 < terms["decoding"]["u_k"] < 0.5
    assert any("colour bar" in note for note in document["frame"]["reader_notes"])


def test_a_zone_at_the_hot_end_is_a_lower_bound(folder: Path) -> None:
    save(folder, "front.png", picture(temperatures(ps_degc=95.0)))
    zones = rows(measure(folder, "front.png", "--low", str(LOW), "--high", str(HIGH)))
    assert zones["ps"]["verdict"] == "lower bound"
    assert "clipped" in zones["ps"]["flags"]
    assert zones["chip"]["verdict"] == "usable"


def test_a_covered_zone_is_flagged_not_filled(folder: Path) -> None:
    # Chip: 60.2 to 75.8 mm, 20.2 to 35.8 mm, so px 75..91 by 48..64.
    cover = Shade((70, 44, 84, 70), (0, 255, 0), 1.0)
    save(folder, "front.png", picture(temperatures(), overlays=(cover,)))
    zones = rows(measure(folder, "front.png", "--low", str(LOW), "--high", str(HIGH)))
    assert "not-measured-pixels" in zones["chip"]["flags"]
    assert zones["chip"]["verdict"] == "lower bound"
    assert int(zones["chip"]["pixels"]) < 15 * 15
    assert float(zones["chip"]["max_degc"]) == pytest.approx(60.0, abs=0.4)


def test_without_numbers_a_study_says_which_key_to_give(folder: Path) -> None:
    save(folder, "rear.png", picture(temperatures(70.0, side="rear")))
    (folder / "study.toml").write_text(STUDY.replace("frames/rear.tiff", "frames/rear.png"), encoding="utf-8")
    result = CliRunner().invoke(main, ["run", str(folder / "study.toml"), "-o", str(folder / "out"), "--no-pictures"])
    assert result.exit_code == 1
    assert "color_scale_degc" in result.stderr
    assert "w1-stock-rear" in result.stderr


def test_a_study_mixes_pictures_and_radiometric_frames(folder: Path) -> None:
    save(folder, "rear.png", picture(temperatures(70.0, side="rear"), cmap="magma"))
    text = STUDY.replace('frames/rear.tiff"', 'frames/rear.png"\ncolor_scale_degc = [20.0, 90.0]')
    (folder / "study.toml").write_text(text, encoding="utf-8")
    result = CliRunner().invoke(
        main, ["run", str(folder / "study.toml"), "-o", str(folder / "out"), "--size", "960x540"]
    )
    assert result.exit_code == 0, result.stderr
    with (folder / "out" / "results.csv").open(encoding="utf-8", newline="") as stream:
        table = {(row["frame"], row["zone"]): row for row in csv.DictReader(stream)}
    radiometric = folder / "radiometric"
    write_tiny(radiometric)
    CliRunner().invoke(main, ["run", str(radiometric / "study.toml"), "-o", str(radiometric / "out"), "--no-pictures"])
    with (radiometric / "out" / "results.csv").open(encoding="utf-8", newline="") as stream:
        truth = {(row["frame"], row["zone"]): row for row in csv.DictReader(stream)}
    decoded, direct = table["rear.png", "ps-rear"], truth["rear.tiff", "ps-rear"]
    assert float(decoded["max_degc"]) == pytest.approx(float(direct["max_degc"]), abs=0.3)
    assert float(decoded["U_max_k"]) > float(direct["U_max_k"])
    assert (folder / "out" / "pictures" / "w1-stock-rear.png").is_file()


def decode(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["decode", *map(str, arguments)])


def test_decode_writes_what_reads_back_without_a_camera_file(folder: Path) -> None:
    frame = picture(temperatures())
    path = save(folder, "front.png", frame)
    result = decode(path, "--low", LOW, "--high", HIGH, "--json", "-o", folder / "front.tiff")
    assert result.exit_code == 0, result.stderr
    summary = json.loads(result.stdout)
    wanted = [
        "low_degc",
        "high_degc",
        "ends_from",
        "bar_px",
        "direction",
        "u_decode_k",
        "share_excluded",
        "share_clipped",
    ]
    assert set(wanted) <= set(summary)
    assert (summary["low_degc"], summary["high_degc"], summary["ends_from"]) == (LOW, HIGH, "given")
    assert summary["direction"] == "up"
    assert np.abs(np.array(summary["bar_px"]) - frame.bar_px).max() <= 1
    back = read_frame(folder / "front.tiff")
    assert back.shape == frame.degc.shape
    assert back.u_decode_k is not None
    known = np.isfinite(back.stored)
    assert known.mean() > 0.8
    assert np.sqrt(np.mean((back.stored[known] - frame.degc[known]) ** 2)) < 0.003 * (HIGH - LOW)
    x0, y0, x1, y1 = frame.bar_px
    assert not known[y0:y1, x0:x1].any(), "the bar itself is no temperature"


def test_decode_takes_folders_and_goes_on_after_a_bad_one(folder: Path) -> None:
    pictures = folder / "pictures"
    pictures.mkdir()
    for number, ps_degc in enumerate((70.0, 80.0)):
        (pictures / f"shot-{number}.png").write_bytes(encode(picture(temperatures(ps_degc)).rgb))
    Image.fromarray(np.full((80, 90, 3), 128, np.uint8)).save(pictures / "blank.png")
    result = decode(pictures, "--low", LOW, "--high", HIGH, "--json", "-o", folder / "decoded")
    assert result.exit_code == 1
    assert "blank.png" in result.stderr
    refused, *summaries = map(json.loads, result.stdout.splitlines())
    assert refused["error"]["code"] == "bar-refused"
    assert refused["error"]["file"].endswith("blank.png")
    assert [summary["frame"] for summary in summaries] == ["shot-0.png", "shot-1.png"]
    assert sorted(path.name for path in (folder / "decoded").iterdir()) == ["shot-0.tiff", "shot-1.tiff"]


def test_decode_shows_what_it_left_out(folder: Path) -> None:
    path = save(folder, "front.png", picture(temperatures()))
    assert decode(path, "--low", LOW, "--high", HIGH, "--show-mask", "-o", folder / "front.tiff").exit_code == 0
    with Image.open(folder / "front-mask.png") as mask:
        assert mask.width == picture(temperatures()).rgb.shape[1]


def test_ticks_make_a_bent_scale(folder: Path) -> None:
    path = save(folder, "front.png", picture(temperatures()))
    straight = decode(path, "--tick", "0.1=27", "--tick", "0.9=83", "-o", folder / "ticks.tiff")
    assert straight.exit_code == 0, straight.stderr
    decode(path, "--low", LOW, "--high", HIGH, "-o", folder / "ends.tiff")
    a, b = read_frame(folder / "ticks.tiff").stored, read_frame(folder / "ends.tiff").stored
    np.testing.assert_allclose(a, b, atol=0.01)


@pytest.mark.parametrize(
    "arguments",
    [
        ["--low", "20"],
        ["--low", "90", "--high", "20"],
        ["--tick", "0.5=40"],
        ["--tick", "0.5=40", "--tick", "0.6=30"],
        ["--tick", "1.5=40", "--tick", "0.6=30"],
        ["--bar-px", "5,5,1,1", "--low", "20", "--high", "90"],
    ],
)
def test_numbers_that_make_no_scale_are_misuse(folder: Path, arguments: list[str]) -> None:
    path = save(folder, "front.png", picture(temperatures()))
    assert decode(path, *arguments).exit_code == 2


def test_decode_never_writes_over_the_picture(folder: Path) -> None:
    path = save(folder, "front.png", picture(temperatures()))
    before = path.read_bytes()
    assert decode(path, "--low", LOW, "--high", HIGH, "-o", path).exit_code == 1
    assert path.read_bytes() == before


def test_a_video_is_sampled_and_stamped(folder: Path) -> None:
    import cv2

    frames = [picture(temperatures(ps)).rgb for ps in (60.0, 60.0, 70.0, 70.0, 80.0, 80.0)]
    rows_px, columns_px = (size - size % 2 for size in frames[0].shape[:2])
    path = folder / "clip.avi"
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter_fourcc(*"MJPG"), 2.0, (columns_px, rows_px))
    for frame in frames:
        writer.write(np.ascontiguousarray(frame[:rows_px, :columns_px, ::-1]))
    writer.release()
    result = decode(path, "--low", LOW, "--high", HIGH, "--every", "1s", "--json", "-o", folder / "clip.tiff")
    assert result.exit_code == 0, result.stderr
    summary = json.loads(result.stdout)
    assert summary["times_s"] == pytest.approx([0.0, 1.0, 2.0], abs=0.05)
    source = open_frames(folder / "clip.tiff")
    assert source.count == 3
    maxima = [float(np.nanmax(source.frame(i).stored[20:60, 20:50])) for i in range(3)]
    assert maxima == pytest.approx([61.0, 71.0, 81.0], abs=1.5)


def labelled_picture(degc: np.ndarray, **style: object) -> ColorFrame:
    """The tiny scene with the numbers of its bar printed beside it."""
    wide = np.pad(degc, ((0, 160), (0, 220)), constant_values=22.0)
    labels = Labels(count=2, size_px=15, place="after")
    place = BarPlace("right", length=0.7, thickness_px=12, margin_px=60)
    return render(wide, LOW, HIGH, ColorStyle(place=place, labels=labels, **style))  # type: ignore[arg-type]


def test_printed_numbers_are_read_and_widen_the_budget(folder: Path) -> None:
    pytest.importorskip("rapidocr", reason="the reading engine is not installed")
    path = save(folder, "front.png", labelled_picture(temperatures()))
    read = json.loads(decode(path, "--ambient-degc", 21, "--json", "-o", folder / "read.tiff").stdout)
    assert (read["low_degc"], read["high_degc"], read["ends_from"]) == (LOW, HIGH, "printed")
    assert [float(label) for label in read["labels"]] == [LOW, HIGH]
    given = json.loads(decode(path, "--low", LOW, "--high", HIGH, "--json").stdout)
    assert given["ends_from"] == "given"
    assert given["labels"] == []
    assert read["u_decode_k"] > given["u_decode_k"]
    zones = rows(measure(folder, "front.png", "--ambient-degc", "21", "--reflected-degc", "22"))
    assert float(zones["ps"]["max_degc"]) == pytest.approx(81.0, abs=0.3)


def test_a_study_reads_printed_numbers_where_it_asks_for_them(folder: Path) -> None:
    pytest.importorskip("rapidocr", reason="the reading engine is not installed")
    save(folder, "rear.png", labelled_picture(temperatures(70.0, side="rear")))
    text = STUDY.replace('frames/rear.tiff"', 'frames/rear.png"\ncolor_scale_degc = "printed"')
    (folder / "study.toml").write_text(text, encoding="utf-8")
    result = CliRunner().invoke(main, ["run", str(folder / "study.toml"), "-o", str(folder / "out"), "--no-pictures"])
    assert result.exit_code == 0, result.stderr
    document = json.loads((folder / "out" / "results.json").read_text(encoding="utf-8"))
    assert "printed as 20.0, 90.0" in json.dumps(document, ensure_ascii=False)


def test_numbers_that_cannot_be_read_are_shown_and_asked_for(folder: Path) -> None:
    pytest.importorskip("rapidocr", reason="the reading engine is not installed")
    path = save(folder, "front.png", picture(temperatures(), labels=Labels(size_px=7)))
    result = decode(path, "-o", folder / "front.tiff")
    assert result.exit_code == 1
    assert "--low and --high" in result.stderr
    assert not (folder / "front.tiff").exists()
    with Image.open(folder / "front-labels.png") as crop:
        assert crop.width > 10


def test_without_the_engine_the_extra_is_named(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from irspot.decoding import ocr

    ocr.engine.cache_clear()
    monkeypatch.setitem(sys.modules, "rapidocr", None)
    path = save(folder, "front.png", labelled_picture(temperatures()))
    result = decode(path)
    assert result.exit_code == 1
    assert "irspot[ocr]" in result.stderr
    assert "--low" in result.stderr


def test_the_library_decodes_a_picture_to_a_frame(folder: Path) -> None:
    drawn = picture(temperatures())
    path = save(folder, "front.png", drawn)
    frame = irspot.decode_frame(path, low_degc=LOW, high_degc=HIGH)
    known = np.isfinite(frame.stored)
    assert frame.u_decode_k is not None
    assert np.mean(np.abs(frame.stored - drawn.degc)[known] <= 2.0 * frame.u_decode_k[known]) > 0.95
    with pytest.raises(irspot.IrspotError, match="one end"):
        irspot.decode_frame(path, low_degc=LOW)
