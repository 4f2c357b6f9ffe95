"""Numbers printed at a colour bar: read where they are certain, never wrongly, refused with the picture of them."""

from __future__ import annotations

import io
import pickle
import sys
import types
from collections.abc import Callable, Iterator
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from irspot.color_picture import Bar
from irspot.decoding import label_reading, labels, ocr
from irspot.decoding.label_rules import tidy
from irspot.decoding.labels import PrintedScale, label_crop, printed_scale, read_labels
from irspot.errors import BarRefused, LibraryMissing
from irspot.synthetic.color_frames import ColorFrame, render
from irspot.synthetic.color_style import BLACK, WHITE, BarPlace, Color, ColorStyle, Labels, OverlayText, Shade
from tests.decoding.labelled_frames import Labelled, labelled, misread

needs_engine = pytest.mark.skipif(find_spec("rapidocr") is None, reason="the reading engine is not installed")

COLD: Color = (40, 8, 80)


def scene(rows: int = 243, columns: int = 322) -> np.ndarray:
    y, x = np.mgrid[0:rows, 0:columns]
    return 22.0 + 20.0 * np.exp(-((x - 90.0) ** 2 + (y - 130.0) ** 2) / 900.0)


def style(**changes: object) -> ColorStyle:
    """Two numbers right of an upright bar."""
    numbers = Labels(**{"count": 2, "size_px": 15, "place": "after", **changes})  # type: ignore[arg-type]
    return ColorStyle(place=BarPlace(margin_px=78, thickness_px=14, length=0.62), labels=numbers)


def bar_of(frame: ColorFrame) -> Bar:
    return Bar(frame.bar_px, frame.low_end, np.zeros((2, 3)))


def ends_read(frame: ColorFrame) -> tuple[float, float]:
    scale = read_labels(frame.rgb, bar_of(frame))
    assert scale.ends_from == "printed"
    return scale.low_degc, scale.high_degc


# With the engine.


@needs_engine
@pytest.mark.parametrize(
    ("low", "high", "changes"),
    [
        (20.1, 48.1, {}),
        (-5.6, 9.8, {}),
        (-35.6, -9.8, {"unit": " °C"}),
        (11.1, 111.1, {"bold": True}),
        (0.0, 100.0, {"count": 3}),
        (8.88, 80.08, {"decimals": 2, "count": 5, "unit": "°C"}),
        (-20.0, 140.0, {"decimals": 0, "plate": True}),
        (36.9, 71.4, {"size_px": 24}),
    ],
)
def test_labels_are_read(low: float, high: float, changes: dict[str, object]) -> None:
    assert ends_read(render(scene(), low, high, style(**changes))) == (low, high)


@needs_engine
@pytest.mark.parametrize("low_end", ["top", "bottom", "left", "right"])
@pytest.mark.parametrize("place", ["before", "after", "beyond"])
@pytest.mark.parametrize("ink", [WHITE, BLACK])
def test_every_side_and_direction(low_end: str, place: str, ink: Color) -> None:
    drawn = ColorStyle(
        low_end=low_end,  # type: ignore[arg-type]
        place=BarPlace(side="inside", length=0.55, along=0.5, across=0.5),
        ink=ink,
        paper=BLACK if ink == WHITE else WHITE,
        ticks=3,
        labels=Labels(count=3, place=place, size_px=16, plate=True),  # type: ignore[arg-type]
    )
    assert ends_read(render(scene(301, 397), 19.3, 64.8, drawn)) == (19.3, 64.8)


@needs_engine
def test_ticks_are_not_taken_for_minus_signs() -> None:
    drawn = replace(style(), ticks=2, border_px=0, gap_px=3, tick_px=5)
    assert ends_read(render(scene(), 20.1, 48.1, drawn)) == (20.1, 48.1)


@needs_engine
def test_fahrenheit_is_converted_and_says_so() -> None:
    frame = render(scene(), 68.0, 140.0, style(unit="°F"))
    printed = printed_scale(frame.rgb, bar_of(frame))
    assert (printed.scale.low_degc, printed.scale.high_degc) == (pytest.approx(20.0), pytest.approx(60.0))
    assert printed.statement == "labels 68.0, 140.0 °F read at the colour bar, converted to 20.00 to 60.00 °C"
    assert printed.bound_k == pytest.approx(0.05 / 1.8)


@needs_engine
def test_kelvin_is_converted() -> None:
    assert ends_read(render(scene(), 293.0, 343.0, style(unit="K", decimals=0))) == (
        pytest.approx(19.85),
        pytest.approx(69.85),
    )


@needs_engine
def test_ambient_refuses_numbers_far_from_it() -> None:
    frame = render(scene(), 201.0, 481.0, style(decimals=0))
    assert ends_read(frame) == (201.0, 481.0)
    with pytest.raises(BarRefused, match="ambient of 21 °C"):
        read_labels(frame.rgb, bar_of(frame), ambient_degc=21.0)


@needs_engine
def test_numbers_that_fall_towards_the_hot_end_are_refused() -> None:
    frame = render(scene(), 20.1, 48.1, style())
    upside_down = Bar(frame.bar_px, "top", np.zeros((2, 3)))
    with pytest.raises(BarRefused, match="fall towards"):
        read_labels(frame.rgb, upside_down)


def outcome(case: Labelled) -> str:
    """Read a picture's labels; say what is wrong with them, ``asked`` where they were refused."""
    try:
        printed = printed_scale(case.frame.rgb, case.bar)
    except BarRefused as refusal:
        return "asked" if refusal.cause == "labels" else f"wrong: cause {refusal.cause}"
    return misread(case, printed)


def check_random_frames(seeds: range, least_share: float) -> None:
    wrong, legible, read = [], 0, 0
    for seed in seeds:  # one by one: a thousand pictures together are gigabytes
        case = labelled(seed)
        said = outcome(case)
        wrong += [f"{seed}: {said}"] if said.startswith("wrong") else []
        if case.whole and case.digits_px >= label_reading.LEAST_DIGITS_PX:
            legible += 1
            read += said == ""
    assert wrong == []
    assert read >= least_share * legible


@needs_engine
def test_random_frames() -> None:
    check_random_frames(range(5000, 5024), 0.6)


@needs_engine
@pytest.mark.full
def test_no_label_is_wrong_and_accepted_in_a_thousand_frames() -> None:
    check_random_frames(range(6000, 7000), 0.75)


# With an engine of known readings: what it gets wrong must not get through.

Install = Callable[[ColorFrame, Callable[[str], str]], None]


@pytest.fixture(name="engine_reading")
def _engine_reading(monkeypatch: pytest.MonkeyPatch) -> Install:
    """Install an engine that reads the truth, changed by a function, and is sure of it, in both looks alike."""

    def install(frame: ColorFrame, change: Callable[[str], str]) -> None:
        def read(look: tuple[label_reading.Region, label_reading.LabelBox, bool]) -> ocr.Read:
            region, box, signed = look
            x0, y0, x1, y1 = region.in_picture(box.box_px)
            for label in frame.labels:
                a0, b0, a1, b1 = label.box_px
                if min(x1, a1) > max(x0, a0) and min(y1, b1) > max(y0, b0):
                    text = change(tidy(label.text))
                    return ocr.Read(text if signed else text.removeprefix("-"), 0.99)
            return ocr.Read("", 0.0)

        monkeypatch.setattr(labels, "engine", lambda: None)
        monkeypatch.setattr(label_reading, "_crop", lambda region, box, span: (region, box, span[0] < box.box_px[0]))
        monkeypatch.setattr(label_reading, "_drawn", lambda region, box, form, span: (region, box, False))
        monkeypatch.setattr(label_reading, "read_line", read)

    return install


def accepted(frame: ColorFrame) -> PrintedScale | None:
    try:
        return printed_scale(frame.rgb, bar_of(frame))
    except BarRefused:
        return None


@pytest.mark.parametrize(("low", "high"), [(20.1, 48.1), (-35.6, 9.8), (-35.6, -9.8), (7.7, 111.1)])
def test_an_engine_that_reads_rightly_is_believed(engine_reading: Install, low: float, high: float) -> None:
    frame = render(scene(), low, high, style())
    engine_reading(frame, str)
    assert ends_read(frame) == (low, high)


MANGLED: dict[str, Callable[[str], str]] = {
    "lost point": lambda text: text.replace(".", ""),
    "lost minus": lambda text: text.removeprefix("-"),
    "leading 1": lambda text: f"-1{text[1:]}" if text.startswith("-") else f"1{text}",
    "lost first digit": lambda text: text[1:] if text[1].isdigit() else text,
    "lost last digit": lambda text: text[:-1],
    "point moved": lambda text: text[:-3] + text[-2] + text[-3] + text[-1] if text[-3].isdigit() else text,
    "8 for 0": lambda text: text.replace("0", "8"),
    "8 for 3": lambda text: text.replace("3", "8"),
    "6 for 5": lambda text: text.replace("5", "6"),
    "7 for 9": lambda text: text.replace("9", "7"),
    "doubled digit": lambda text: text + text[-1],
}
SCALES = {
    "low": st.integers(-490, 700),
    "span": st.integers(150, 2000),
    "name": st.sampled_from(sorted(MANGLED)),
}
ONE_INSTALLED = [HealthCheck.function_scoped_fixture]


@given(**SCALES)
@settings(max_examples=40, suppress_health_check=ONE_INSTALLED, deadline=None)
def test_wrong_readings_of_both_labels_are_never_accepted(
    engine_reading: Install, low: int, span: int, name: str
) -> None:
    check_mangled(engine_reading, low, span, name)


@pytest.mark.full
@given(**SCALES)
@settings(max_examples=2000, suppress_health_check=ONE_INSTALLED, deadline=None)
def test_wrong_readings_of_both_labels_are_never_accepted_in_full(
    engine_reading: Install, low: int, span: int, name: str
) -> None:
    check_mangled(engine_reading, low, span, name)


def check_mangled(engine_reading: Install, low: int, span: int, name: str) -> None:
    frame = render(scene(), low / 10.0, (low + span) / 10.0, style())
    engine_reading(frame, MANGLED[name])
    printed = accepted(frame)
    if printed is not None:
        assert (printed.scale.low_degc, printed.scale.high_degc) == (frame.low_degc, frame.high_degc), name


def test_minus_signs_that_only_the_form_shows_are_asked_for(engine_reading: Install) -> None:
    frame = render(scene(), -35.6, 9.8, style())
    engine_reading(frame, lambda text: text.removeprefix("-"))
    assert accepted(frame) is None


# What cannot be read.


def refusal_of(frame: ColorFrame) -> BarRefused:
    with pytest.raises(BarRefused) as caught:
        read_labels(frame.rgb, bar_of(frame))
    return caught.value


def test_a_refusal_shows_the_crop_and_names_the_options(engine_reading: Install) -> None:
    frame = render(scene(), 20.1, 48.1, style(count=0))
    engine_reading(frame, str)
    refusal = refusal_of(frame)
    assert refusal.cause == "labels"
    assert "--low and --high" in str(refusal)
    crop = np.asarray(Image.open(io.BytesIO(refusal.crop_png)))
    x0, y0, x1, y1 = labels.crop_px(frame.rgb, bar_of(frame))
    assert f"{x0},{y0},{x1},{y1}" in str(refusal)
    np.testing.assert_array_equal(crop, frame.rgb[y0:y1, x0:x1])
    assert refusal.crop_png == label_crop(frame.rgb, bar_of(frame))
    assert pickle.loads(pickle.dumps(refusal)).crop_png == refusal.crop_png


def test_small_digits_are_asked_for(engine_reading: Install) -> None:
    frame = render(scene(), 20.1, 48.1, style(size_px=11))
    engine_reading(frame, str)
    assert "lower than 9 px" in str(refusal_of(frame))


def test_numbers_cut_off_by_the_edge_are_asked_for(engine_reading: Install) -> None:
    drawn = replace(style(place="before"), place=BarPlace(side="left", margin_px=24, thickness_px=14, length=0.62))
    frame = render(scene(), 20.1, 48.1, drawn)
    assert frame.labels[0].box_px[0] < 0
    engine_reading(frame, lambda text: text[1:])
    assert accepted(frame) is None


def test_a_digit_that_white_could_hide_is_asked_for(engine_reading: Install) -> None:
    frame = render(scene(), 15.0, 120.0, style(decimals=0, size_px=18))
    engine_reading(frame, str)
    assert accepted(frame) is not None
    x0, y0, _, y1 = frame.labels[1].box_px
    rgb = frame.rgb.copy()
    rgb[y0 - 6 : y1 + 6, x0 - 5 : x0 + 6] = 255
    hidden = replace(frame, rgb=rgb)
    engine_reading(hidden, lambda text: text.removeprefix("1") if text == "120" else text)
    assert accepted(hidden) is None


def set_wide() -> ColorFrame:
    """Draw 25.1 and 76.3 as typewriters set them, the points too faint to be seen: the last digits stand alone."""
    bar = render(scene(), 1.0, 3.0, style(count=0)).bar_px
    x = bar[2] + 8
    words = [
        OverlayText(text, (x + shift, y - 5), 15)
        for y, (whole, last) in ((bar[3] - 1, ("25", "1")), (bar[1], ("76", "3")))
        for text, shift in ((whole, 0), (last, 27))
    ]
    return render(scene(), 1.0, 3.0, replace(style(count=0), covers=tuple(words)))


@needs_engine
def test_a_piece_of_a_number_is_not_taken_for_one() -> None:
    assert accepted(set_wide()) is None


@pytest.mark.parametrize("alpha", [0.9, 1.0])
def test_faint_numbers_are_asked_for(engine_reading: Install, alpha: float) -> None:
    plain = render(scene(), 20.1, 48.1, style())
    rows, columns = plain.rgb.shape[:2]
    cover = Shade((plain.bar_px[2] + 2, 0, columns, rows), COLD, alpha)
    shaded = render(scene(), 20.1, 48.1, replace(style(), covers=(cover,)))
    engine_reading(shaded, str)
    assert accepted(shaded) is None


# Libraries.


@pytest.fixture(name="fresh_engine")
def _fresh_engine() -> Iterator[None]:
    ocr.engine.cache_clear()
    yield
    ocr.engine.cache_clear()


@pytest.mark.usefixtures("fresh_engine")
@pytest.mark.parametrize("missing", ["rapidocr", "onnxruntime"])
def test_without_the_engine_the_extra_is_named(monkeypatch: pytest.MonkeyPatch, missing: str) -> None:
    for name in {"rapidocr", "onnxruntime"} - {missing}:
        monkeypatch.setitem(sys.modules, name, types.ModuleType(name))
    monkeypatch.setitem(sys.modules, missing, None)
    frame = render(scene(), 20.1, 48.1, style())
    with pytest.raises(LibraryMissing, match=r"irspot\[ocr\]"):
        read_labels(frame.rgb, bar_of(frame))


@pytest.mark.usefixtures("fresh_engine")
def test_an_engine_without_models_is_refused_before_it_fetches_any(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    empty = types.ModuleType("rapidocr")
    empty.__file__ = str(tmp_path / "__init__.py")
    monkeypatch.setitem(sys.modules, "onnxruntime", types.ModuleType("onnxruntime"))
    monkeypatch.setitem(sys.modules, "rapidocr", empty)
    with pytest.raises(LibraryMissing, match="without its models"):
        ocr.engine()


@pytest.mark.usefixtures("fresh_engine")
def test_a_damaged_opencv_prints_the_line_that_mends_it(monkeypatch: pytest.MonkeyPatch) -> None:
    left_behind = types.ModuleType("cv2")
    left_behind.__path__ = ["/somewhere/cv2"]
    monkeypatch.setitem(sys.modules, "cv2", left_behind)
    with pytest.raises(LibraryMissing, match="pip install --force-reinstall --no-deps opencv-python"):
        ocr.engine()
