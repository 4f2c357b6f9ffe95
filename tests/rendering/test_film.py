"""Moving pictures: one page, one scale, a clock; GIF and MP4 read back by other means."""

from __future__ import annotations

import io
import sys
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from irspot.errors import LibraryMissing, UsageError
from irspot.rendering.film_files import write_gif, write_mp4
from irspot.rendering.legend import bar_box
from irspot.rendering.moving import Film, Moment, clock_text, film_of
from irspot.results import Reading
from tests.rendering.scenes import CAPTION, SHAPE, board_of, placed, readings_of, warm_frame

BOARD, PLACED = board_of(5), placed()
LAST = readings_of(BOARD, PLACED)
SIZE = (642, 362)


def at(number: int) -> tuple[Reading, ...]:
    return tuple(replace(r, max_degc=r.max_degc - 3.0 * (6 - number), hot_x_px=r.hot_x_px + number) for r in LAST)


MOMENTS = tuple(Moment(35.0 * number, at(number), PLACED) for number in range(7))


def film(**more: object) -> Film:
    arguments = {"caption": CAPTION, "scale_degc": (20.0, 90.0), "size": SIZE, **more}
    return film_of(MOMENTS, SHAPE, BOARD, **arguments)  # type: ignore[arg-type]


def frame_at(number: int) -> np.ndarray:
    return warm_frame() - 2.0 * (6 - number)


def test_every_moment_says_its_own_numbers_and_time() -> None:
    made = film(size=(1280, 720))
    for number, moment in enumerate(MOMENTS):
        picture = made.picture(frame_at(number), moment)
        assert picture.size == (1280, 720)
        said = "".join(picture.texts)
        assert clock_text(35.0 * number) in picture.texts
        for r in moment.readings[:-1]:
            assert (r.headline("°C") or "retake") in said
        assert "clock: since the first frame" in said


def test_scale_callouts_and_names_stay_where_they_are() -> None:
    made = film(size=(1280, 720))
    pictures = [made.picture(frame_at(number), moment) for number, moment in enumerate(MOMENTS)]
    bar = bar_box(made.page)
    rows, columns = slice(int(bar.y0), int(bar.y1)), slice(int(bar.x0), int(bar.x1))
    for picture in pictures[1:]:
        np.testing.assert_array_equal(picture.array[rows, columns], pictures[0].array[rows, columns])
    names = [[text for text in picture.texts if text.startswith("Zone ")] for picture in pictures]
    assert all(each == names[0] for each in names)
    one, two = (made._page_of(moment, SHAPE)[0] for moment in (MOMENTS[0], MOMENTS[-1]))
    assert [place.box for _, place in one.callouts] == [place.box for _, place in two.callouts]
    assert one.image == two.image


def test_leaders_follow_the_hot_spots() -> None:
    made = film(size=(1280, 720))
    for moment in (MOMENTS[0], MOMENTS[-1]):
        page, _ = made._page_of(moment, SHAPE)
        spots = {label.zone: spot for label, spot in page.spots}
        for label, place in page.callouts:
            assert place.leader is not None
            (x0, y0), (x1, y1) = place.leader
            assert (x1, y1) == place.port
            x, y = spots[label.zone]
            # The leader points at its spot: the spot lies on its line, a ring's radius before its start.
            assert (x1 - x) * (y0 - y) == pytest.approx((y1 - y) * (x0 - x), abs=1e-6 * 1e4)


def test_a_zone_that_a_moment_lacks_leaves_its_place_empty() -> None:
    made = film(size=(1280, 720))
    picture = made.picture(frame_at(0), replace(MOMENTS[0], readings=MOMENTS[0].readings[1:]))
    assert "Zone z0" in picture.texts
    assert MOMENTS[0].readings[0].headline("°C") not in "".join(picture.texts)


def test_zones_that_only_the_strip_has_room_for_move_too() -> None:
    board = board_of(40)
    readings = readings_of(board, PLACED)
    moments = [Moment(float(n), readings, PLACED) for n in range(2)]
    made = film_of(moments, SHAPE, board, caption=CAPTION, scale_degc=(20.0, 90.0), size=(640, 360))
    assert made.page.strip is not None
    said = "".join(made.picture(warm_frame(), moments[0]).texts)
    assert sum((r.headline("°C") or "retake") in said for r in readings[:-1]) >= 30


def pictures() -> list:  # type: ignore[type-arg]
    made = film()
    return [made.picture(frame_at(number), moment) for number, moment in enumerate(MOMENTS)]


def test_a_gif_has_every_picture_at_its_pace() -> None:
    drawn, stream = pictures(), io.BytesIO()
    write_gif(stream, iter(drawn), (drawn[0], drawn[-1]), film().scale, 8.0)
    with Image.open(stream) as gif:
        assert gif.size == SIZE
        assert gif.n_frames == 7
        assert gif.info["loop"] == 0
        for number, picture in enumerate(drawn):
            gif.seek(number)
            assert gif.info["duration"] == 120  # 125 ms, in GIF's hundredths of a second
            shown = np.asarray(gif.convert("RGB")).astype(int)
            assert np.abs(shown - picture.array).mean() < 4.0
    again = io.BytesIO()
    write_gif(again, iter(pictures()), (drawn[0], drawn[-1]), film().scale, 8.0)
    assert again.getvalue() == stream.getvalue()


def test_one_temperature_has_one_colour_throughout_a_gif() -> None:
    made, stream = film(), io.BytesIO()
    flat = [made.picture(np.full(SHAPE, 55.0), moment) for moment in MOMENTS]
    write_gif(stream, iter(flat), (flat[0], flat[-1]), made.scale, 10.0)
    box = made.page.image
    seen = set()
    with Image.open(stream) as gif:
        for number in range(7):
            gif.seek(number)
            seen.add(gif.convert("RGB").getpixel((int(box.x0) + 4, int(box.y0) + 4)))
    (color,) = seen
    assert np.abs(np.array(color) - made.scale.color_of(55.0)).max() <= 6


def test_an_mp4_is_h264_of_that_size_count_and_pace() -> None:
    av = pytest.importorskip("av")
    drawn, stream = pictures(), io.BytesIO()
    write_mp4(stream, iter(drawn), SIZE, 12.5)
    stream.seek(0)
    with av.open(stream) as video:
        (track,) = video.streams.video
        assert track.codec_context.name == "h264"
        assert (track.width, track.height) == SIZE
        assert track.pix_fmt == "yuv420p"
        assert float(track.average_rate) == 12.5
        frames = list(video.decode(video=0))
    assert len(frames) == 7
    assert [frame.time for frame in frames] == pytest.approx([number / 12.5 for number in range(7)], abs=1e-3)
    for frame, picture in zip(frames, drawn, strict=True):
        shown = frame.reformat(format="rgb24", src_colorspace="ITU709").to_ndarray().astype(int)
        assert np.abs(shown - picture.array).mean() < 5.0
        assert np.abs(shown[:40, :40].mean(axis=(0, 1)) - picture.array[:40, :40].mean(axis=(0, 1))).max() < 4.0
    assert stream.getvalue().find(b"moov") < stream.getvalue().find(b"mdat"), "playable while it loads"


@pytest.mark.parametrize("size", [(641, 362), (642, 361)])
def test_an_odd_size_is_refused_with_one_that_goes(size: tuple[int, int]) -> None:
    with pytest.raises(UsageError, match="try --size 642x362") as refused:
        write_mp4(io.BytesIO(), iter(()), size, 10.0)
    assert "even" in str(refused.value)


def test_without_pyav_one_line_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "av", None)
    with pytest.raises(LibraryMissing, match=r"pip install 'irspot\[video\]'"):
        write_mp4(io.BytesIO(), iter(()), SIZE, 10.0)
