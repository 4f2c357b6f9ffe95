"""Visible-light photos: colours, grey, orientation, and what is no photo."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageOps

from irspot.decoding.photo import read_photo
from irspot.errors import FrameTooLarge, FrameUnreadable
from irspot.photo import Photo


def colours(rows: int = 70, columns: int = 97) -> np.ndarray:
    """A picture of no symmetry whatever."""
    y, x = np.mgrid[:rows, :columns]
    return np.stack([2 * x, 3 * y, 40 + x + y // 2], axis=-1).astype(np.uint8)


def save(path: Path, image: Image.Image, **settings: object) -> Path:
    image.save(path, **settings)
    return path


def test_a_png_keeps_its_colours(tmp_path: Path) -> None:
    photo = read_photo(save(tmp_path / "Ansicht ä.png", Image.fromarray(colours())))
    np.testing.assert_array_equal(photo.rgb, colours())
    assert (photo.name, photo.size_px) == ("Ansicht ä.png", (97, 70))
    assert not photo.rgb.flags.writeable


def test_a_jpeg_is_read_alike(tmp_path: Path) -> None:
    photo = read_photo(save(tmp_path / "a.jpg", Image.fromarray(colours()), quality=95, subsampling=0))
    assert np.abs(photo.rgb.astype(int) - colours()).mean() < 2.0


@pytest.mark.parametrize("mode", ["L", "1", "P", "CMYK"])
def test_grey_and_other_kinds_become_three_channels(mode: str, tmp_path: Path) -> None:
    image = Image.fromarray(colours()).convert(mode)
    photo = read_photo(save(tmp_path / "a.tiff", image))
    np.testing.assert_array_equal(photo.rgb, np.asarray(image.convert("RGB")))


def test_what_is_transparent_shows_white(tmp_path: Path) -> None:
    clear = np.dstack([colours(), np.full((70, 97), 255, np.uint8)])
    clear[:, :30, 3] = 0
    rgb = read_photo(save(tmp_path / "a.png", Image.fromarray(clear))).rgb
    assert (rgb[:, :30] == 255).all()
    np.testing.assert_array_equal(rgb[:, 30:], colours()[:, 30:])


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["png", "tiff"])
def test_orientation_is_that_of_pillow(orientation: int, kind: str, tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    path = save(tmp_path / f"a.{kind}", Image.fromarray(colours()), exif=exif)
    photo = read_photo(path)
    with Image.open(path) as stored:
        np.testing.assert_array_equal(photo.rgb, np.asarray(ImageOps.exif_transpose(stored)))
    assert photo.size_px == ((97, 70) if orientation < 5 else (70, 97))


def test_a_camera_held_sideways(tmp_path: Path) -> None:
    """Orientation 6: the stored rows' first is the right-hand side of what was seen (CIPA DC-008, table 4.6.4)."""
    exif = Image.Exif()
    exif[0x0112] = 6
    seen = colours()
    stored = Image.fromarray(seen).rotate(90, expand=True)  # a viewer turns it back, clockwise
    np.testing.assert_array_equal(read_photo(save(tmp_path / "a.png", stored, exif=exif)).rgb, seen)


@pytest.mark.parametrize("orientation", [0, 9, 77])
def test_an_orientation_there_is_not_leaves_the_rows(orientation: int, tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    photo = read_photo(save(tmp_path / "a.png", Image.fromarray(colours()), exif=exif))
    np.testing.assert_array_equal(photo.rgb, colours())


def test_damaged_exif_costs_the_orientation_not_the_photo(tmp_path: Path) -> None:
    path = save(tmp_path / "a.png", Image.fromarray(colours()), exif=b"Exif\0\0MM\0*\0\0\0\xff")
    np.testing.assert_array_equal(read_photo(path).rgb, colours())


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"no picture at all", "no picture"),
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 40, "no picture"),
    ],
)
def test_what_is_no_photo_is_refused_in_one_line(content: bytes, said: str, tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    path.write_bytes(content)
    with pytest.raises(FrameUnreadable, match=said) as refusal:
        read_photo(path)
    assert str(path) in str(refusal.value)
    assert "\n" not in str(refusal.value)


def test_missing_files_folders_and_broken_off_ones_are_refused(tmp_path: Path) -> None:
    with pytest.raises(FrameUnreadable, match="no such file"):
        read_photo(tmp_path / "none.jpg")
    with pytest.raises(FrameUnreadable, match="directory"):
        read_photo(tmp_path)
    whole = save(tmp_path / "a.png", Image.fromarray(colours())).read_bytes()
    (tmp_path / "a.png").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(FrameUnreadable, match=r"breaks off|no picture"):
        read_photo(tmp_path / "a.png")


def test_thermal_frames_are_no_photos(tmp_path: Path) -> None:
    path = save(tmp_path / "a.png", Image.fromarray(colours()[..., 0].astype(np.uint16) * 100))
    with pytest.raises(FrameUnreadable, match="more than eight bits"):
        read_photo(path)


def test_sizes_have_a_floor_and_a_cap(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(FrameUnreadable, match="too small"):
        read_photo(save(tmp_path / "s.png", Image.fromarray(colours(63, 200))))
    monkeypatch.setenv("IRSPOT_MAX_PIXELS", "6789")
    with pytest.raises(FrameTooLarge, match="97 × 70"):
        read_photo(save(tmp_path / "a.png", Image.fromarray(colours())))


def outcome(path: Path) -> str:
    """The name of a photo that can be read, or why it cannot."""
    try:
        return read_photo(path).name
    except FrameUnreadable as refusal:
        return str(refusal)


@pytest.mark.parametrize("seed", range(40))
def test_mutated_photos_are_read_or_refused(seed: int, tmp_path: Path) -> None:
    random = np.random.default_rng(seed)
    packed, exif = io.BytesIO(), Image.Exif()
    exif[0x0112] = 1 + seed % 8
    Image.fromarray(colours()).save(packed, ("PNG", "JPEG", "TIFF")[seed % 3], exif=exif)
    content = bytearray(packed.getvalue())
    for place in random.integers(0, len(content), 6):
        content[place] = random.integers(256)
    path = tmp_path / "a"
    path.write_bytes(bytes(content[: random.integers(1, len(content) + 1)] if seed % 2 else content))
    assert "\n" not in outcome(path)


@pytest.mark.parametrize("array", [np.zeros((4, 4), np.uint8), np.zeros((4, 4, 4), np.uint8), np.zeros((4, 4, 3))])
def test_photos_are_three_channels_of_bytes(array: np.ndarray) -> None:
    with pytest.raises(ValueError, match="a photo is"):
        Photo(array)
