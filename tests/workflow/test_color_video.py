"""Videos are read a picture at a time, and their bar anew where it changes."""

from __future__ import annotations

import csv
import gc
import json
import weakref
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
import tifffile
from click.testing import CliRunner, Result

from irspot.camera import NO_CAMERA
from irspot.cli.main import main
from irspot.color_wish import BarScale, ColorWish
from irspot.decoding.video import VideoFrame
from irspot.errors import BarRefused
from irspot.readers import open_frames
from irspot.study import Readout
from irspot.synthetic.color_frames import encode, render
from irspot.synthetic.color_style import BarPlace, ColorStyle
from irspot.workflow.color_video import VideoFrames
from irspot.workflow.readout import readout_frame
from tests.tiny import STUDY, temperatures, write_tiny

LOW, HIGH = 20.0, 90.0


def shown(hottest: float, side: str = "right", low: float = LOW, high: float = HIGH, **style: object) -> np.ndarray:
    wide = np.pad(temperatures(hottest), ((0, 60), (90, 90)), constant_values=22.0)
    place = BarPlace(side, length=0.8, thickness_px=12)  # type: ignore[arg-type]
    return render(wide, low, high, ColorStyle(place=place, **style)).rgb  # type: ignore[arg-type]


def video(path: Path, pictures: Sequence[np.ndarray], rate: float = 1.0) -> Path:
    import cv2

    rows, columns = (size - size % 2 for size in pictures[0].shape[:2])
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter_fourcc(*"MJPG"), rate, (columns, rows))
    for picture in pictures:
        writer.write(np.ascontiguousarray(picture[:rows, :columns, ::-1]))
    writer.release()
    return path


def decode(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["decode", *map(str, arguments)])


def opened(path: Path) -> VideoFrames:
    return VideoFrames.opened(path, NO_CAMERA, ColorWish(scale=BarScale.of_ends(LOW, HIGH)))


def test_few_pictures_are_in_memory_however_long_the_video(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = video(tmp_path / "clip.avi", [shown(60.0 + k) for k in range(12)])
    alive: list[weakref.ref[np.ndarray]] = []
    most = 0
    whole = VideoFrames._decoded

    def counted(self: VideoFrames, picture: VideoFrame) -> object:
        nonlocal most
        decoded = whole(self, picture)
        gc.collect()
        alive.append(weakref.ref(decoded.temperature_degc))
        most = max(most, sum(ref() is not None for ref in alive))
        return decoded

    monkeypatch.setattr(VideoFrames, "_decoded", counted)
    result = decode(path, "--low", LOW, "--high", HIGH, "-o", tmp_path / "clip.tiff")
    assert result.exit_code == 0, result.stderr
    assert len(alive) == 12 + 1  # each once, and the first when the video is opened
    assert open_frames(tmp_path / "clip.tiff").count == 12
    assert most <= 3
    alive.clear()
    most = 0
    readout_frame(opened(path), Readout(everything=True), None, None, "clip")
    assert len(alive) >= 12
    assert most <= 3


def test_a_bar_that_moves_or_changes_its_colours_is_found_anew(tmp_path: Path) -> None:
    pictures = [shown(70.0), shown(71.0), shown(72.0, "left"), shown(73.0, "left", cmap="viridis"), shown(74.0)]
    source = opened(video(tmp_path / "clip.avi", pictures))
    decoded = [source.decoded(index) for index in range(source.count)]
    lefts = [each.bar.box_px[0] < 90 for each in decoded]
    assert lefts == [False, False, True, True, False]
    assert decoded[1].bar is decoded[0].bar
    board = np.s_[20:60, 110:140]
    assert [float(np.nanmax(each.temperature_degc[board])) for each in decoded] == pytest.approx(
        [71.0, 72.0, 73.0, 74.0, 75.0], abs=1.5
    )


def test_a_picture_without_its_bar_is_refused_not_decoded_with_the_one_before(tmp_path: Path) -> None:
    rng = np.random.default_rng(4)
    noise = rng.integers(0, 256, shown(70.0).shape).astype(np.uint8)
    source = opened(video(tmp_path / "clip.avi", [shown(70.0), noise, shown(72.0)]))
    source.decoded(0)
    with pytest.raises(BarRefused, match=r"clip\.avi"):
        source.decoded(1)
    assert source.decoded(2).bar.low_end == "bottom"


def test_an_average_of_pictures_keeps_what_decoding_says_of_them(tmp_path: Path) -> None:
    source = opened(video(tmp_path / "clip.avi", [shown(60.0), shown(120.0), shown(60.0)]))
    average = readout_frame(source, Readout(everything=True), None, None, "clip")
    assert average.u_decode_k is not None
    assert average.clipped is not None
    hot = average.clipped[20:60, 110:140]
    assert hot.any()
    assert not source.frame(0).clipped[20:60, 110:140].any()  # type: ignore[index]
    # Decoding errs alike in all pictures: averaging does not make it smaller.
    single = np.nanmedian(source.frame(0).u_decode_k)  # type: ignore[arg-type]
    assert np.nanmedian(average.u_decode_k) == pytest.approx(single, rel=0.3)


def test_the_last_seconds_of_a_video_go_by_its_own_clock(tmp_path: Path) -> None:
    source = opened(video(tmp_path / "clip.avi", [shown(60.0 + k) for k in range(6)]))
    averaged = readout_frame(source, Readout(last_s=2.0), None, None, "clip")
    assert averaged.averaged == 2
    assert float(np.nanmax(averaged.stored[20:60, 110:140])) == pytest.approx(65.5, abs=1.5)


def test_a_summary_tells_means_and_times(tmp_path: Path) -> None:
    path = video(tmp_path / "clip.avi", [shown(60.0), shown(120.0)])
    summary = json.loads(decode(path, "--low", LOW, "--high", HIGH, "--json").stdout)
    assert summary["frames"] == 2
    assert summary["scales"] == [{"time_s": 0.0, "low_degc": LOW, "high_degc": HIGH}]
    source = opened(path)
    shares = [source.decoded(index).share_clipped for index in range(2)]
    assert shares[1] > shares[0]
    assert summary["share_clipped"] == pytest.approx(np.mean(shares), rel=1e-6)


def test_a_video_shows_what_was_left_out_of_each_picture(tmp_path: Path) -> None:
    path = video(tmp_path / "clip.avi", [shown(60.0), shown(120.0), shown(62.0)])
    result = decode(path, "--low", LOW, "--high", HIGH, "--show-mask", "-o", tmp_path / "clip.tiff")
    assert result.exit_code == 0, result.stderr
    masks = tifffile.imread(tmp_path / "clip-mask.tiff")
    assert open_frames(tmp_path / "clip.tiff").count == len(masks) == 3
    assert masks.shape[-1] == 3
    clipped = [(mask[:-180] == (213, 94, 0)).all(axis=2).sum() for mask in masks]
    assert clipped[1] > 100 > max(clipped[0], clipped[2])


def test_masks_never_go_over_a_video(tmp_path: Path) -> None:
    path = video(tmp_path / "clip.avi", [shown(60.0)])
    taken = path.rename(tmp_path / "clip-mask.tiff")
    before = taken.read_bytes()
    result = decode(taken, "--low", LOW, "--high", HIGH, "--show-mask", "-o", tmp_path / "clip.tiff")
    assert result.exit_code != 0
    assert taken.read_bytes() == before


def test_a_log_of_the_scale_says_what_the_bar_stands_for_at_each_time(tmp_path: Path) -> None:
    """The hottest part stays at 61 °C while the camera changes its scale, and its colour with it."""
    scales = [(20.0, 90.0), (20.0, 90.0), (10.0, 120.0), (15.0, 70.0)]
    path = video(tmp_path / "clip.avi", [shown(60.0, low=low, high=high) for low, high in scales])
    log = tmp_path / "scale.csv"
    log.write_text("time_s,low_degc,high_degc\n0,20,90\n2,10,120\n3,15,70\n")
    result = decode(path, "--scale-log", log, "--json", "-o", tmp_path / "clip.tiff")
    assert result.exit_code == 0, result.stderr
    source = open_frames(tmp_path / "clip.tiff")
    maxima = [float(np.nanmax(source.frame(index).stored[20:60, 110:140])) for index in range(4)]
    assert maxima == pytest.approx([61.0] * 4, abs=1.5)
    summary = json.loads(result.stdout)
    assert summary["ends_from"] == "log"
    assert [(each["time_s"], each["low_degc"], each["high_degc"]) for each in summary["scales"]] == [
        (pytest.approx(0.0), 20.0, 90.0),
        (pytest.approx(2.0, abs=0.05), 10.0, 120.0),
        (pytest.approx(3.0, abs=0.05), 15.0, 70.0),
    ]


def test_a_picture_before_the_log_begins_is_refused(tmp_path: Path) -> None:
    path = video(tmp_path / "clip.avi", [shown(60.0), shown(61.0)])
    log = tmp_path / "scale.csv"
    log.write_text("time_s,low_degc,high_degc\n0.5,20,90\n")
    result = decode(path, "--scale-log", log, "-o", tmp_path / "clip.tiff")
    assert result.exit_code != 0
    assert "scale.csv" in result.stderr
    assert "begins after the video's picture" in result.stderr
    assert not (tmp_path / "clip.tiff").exists()
    assert [file.name for file in tmp_path.iterdir() if file.suffix == ".part"] == []


def test_a_log_is_no_scale_of_a_still_nor_beside_given_ends(tmp_path: Path) -> None:
    log = tmp_path / "scale.csv"
    log.write_text("time_s,low_degc,high_degc\n0,20,90\n")
    still = tmp_path / "still.png"
    still.write_bytes(encode(shown(60.0), "png"))
    result = decode(still, "--scale-log", log)
    assert result.exit_code != 0
    assert "is for videos" in result.stderr
    result = decode(still, "--scale-log", log, "--low", LOW, "--high", HIGH)
    assert result.exit_code == 2
    assert "contradicts" in result.stderr


def test_a_study_takes_a_log_and_states_it_among_its_inputs(tmp_path: Path) -> None:
    write_tiny(tmp_path)
    pictures = [shown(60.0, low=low, high=high) for low, high in ((20.0, 90.0), (10.0, 120.0))]
    video(tmp_path / "frames" / "front.avi", [picture[:, 90:] for picture in pictures])
    (tmp_path / "scale.csv").write_text("time_s,low_degc,high_degc\n0,20,90\n1,10,120\n")
    text = STUDY.replace("frames/front-*.tiff", "frames/front.avi")
    assert text != STUDY
    first = text.index('frames/front.avi"') + len('frames/front.avi"')
    text = text[:first] + '\ncolor_scale_degc = "scale.csv"\nreadout = "all"' + text[first:]
    (tmp_path / "study.toml").write_text(text)
    result = CliRunner().invoke(main, ["run", str(tmp_path / "study.toml"), "-o", str(tmp_path / "out")])
    assert result.exit_code == 0, result.stderr
    document = json.loads((tmp_path / "out" / "results.json").read_text())
    assert "scale.csv" in json.dumps(document)
    rows = list(csv.DictReader((tmp_path / "out" / "results.csv").read_text(encoding="utf-8-sig").splitlines()))
    hottest = max(float(row["max_degc"]) for row in rows if row["side"] == "front" and row["max_degc"])
    assert hottest == pytest.approx(61.0, abs=3.0)
