from __future__ import annotations

from dataclasses import replace
from importlib import metadata

import numpy as np
import pytest

from irspot.camera import NO_CAMERA, Optics
from irspot.errors import FrameTooLarge, FrameUnreadable, UnitImplausible
from irspot.frame import Frame, FrameList, degc_frame
from irspot.readers import open_frames, read_frame
from tests.readers.samples import CENTIKELVIN, COLUMNS, DEGC, ROWS, centikelvin, degc

HEAD = b"\x01MADE-UP\x02"


class Reader:
    """A reader of an invented format: a head, then centikelvin of a fixed size."""

    def accepts(self, head, path, camera):
        return head.startswith(HEAD)

    def open(self, path, camera):
        stored = np.frombuffer(path.read_bytes()[len(HEAD) :], "<u2").reshape(ROWS, COLUMNS)
        return FrameList((Frame(stored, camera, path.name),))


class Failing(Reader):
    def __init__(self, place, error):
        self.place, self.error = place, error

    def accepts(self, head, path, camera):
        if self.place == "accepts":
            raise self.error
        return super().accepts(head, path, camera)

    def open(self, path, camera):
        if self.place == "open":
            raise self.error
        return self

    count = 1

    def frame(self, index):
        raise self.error


@pytest.fixture
def install(monkeypatch):
    def _install(*readers):
        class Entry:
            def __init__(self, name, reader):
                self.name, self.reader = name, reader

            def load(self):
                if isinstance(self.reader, Exception):
                    raise self.reader
                return self.reader

        entries = [Entry(name, reader) for name, reader in readers]
        monkeypatch.setattr(metadata, "entry_points", lambda *, group: entries if group == "irspot.readers" else [])

    return _install


@pytest.fixture
def made_up(tmp_path):
    path = tmp_path / "frame.madeup"
    path.write_bytes(HEAD + centikelvin().tobytes())
    return path


def test_plugins_join_after_the_built_in_readers(install, made_up):
    with pytest.raises(FrameUnreadable, match="no known kind"):
        open_frames(made_up, CENTIKELVIN)
    install(("madeup", Reader()))
    np.testing.assert_array_equal(read_frame(made_up, CENTIKELVIN).stored, centikelvin())


def test_plugins_are_not_asked_about_what_is_read_already(install, tmp_path):
    install(("broken", ImportError("no such library")))
    np.save(tmp_path / "frame.npy", centikelvin())
    assert open_frames(tmp_path / "frame.npy", CENTIKELVIN).count == 1


def test_plugins_are_asked_in_the_order_of_their_names(install, made_up):
    first, second = Reader(), Reader()
    second.open = lambda path, camera: FrameList((degc_frame(degc(), "second"),))
    install(("b", second), ("a", first))
    assert read_frame(made_up, CENTIKELVIN).name == "frame.madeup"


@pytest.mark.parametrize("place", ["accepts", "open", "frame"])
def test_failures_of_a_plugin_name_it(install, made_up, place):
    install(("madeup", Failing(place, KeyError("boom"))))
    with pytest.raises(FrameUnreadable, match=r"reader plug-in madeup failed .*KeyError: 'boom'"):
        read_frame(made_up, CENTIKELVIN)


def test_a_plugin_that_cannot_be_loaded_is_named(install, made_up):
    install(("madeup", ImportError("no such library")))
    with pytest.raises(FrameUnreadable, match=r"madeup failed .*no such library"):
        open_frames(made_up, CENTIKELVIN)


@pytest.mark.parametrize("place", ["accepts", "open", "frame"])
def test_refusals_of_a_plugin_pass_unchanged(install, made_up, place):
    install(("madeup", Failing(place, FrameTooLarge("too much"))))
    with pytest.raises(FrameTooLarge, match=r"^too much$"):
        read_frame(made_up, CENTIKELVIN)


@pytest.mark.parametrize(
    ("frame", "kind", "reason"),
    [
        (degc(), FrameUnreadable, "ndarray instead of a Frame"),
        (Frame(degc(), NO_CAMERA, "a"), FrameUnreadable, "camera file"),
        (Frame(degc(), replace(DEGC, optics=Optics(size_px=(9, 11))), "a"), FrameUnreadable, "9 × 11"),
        (Frame(degc() + 273.15, DEGC, "a"), UnitImplausible, 'unit = "K"'),
        (Frame(np.full((3, 4), np.nan), DEGC, "a"), FrameUnreadable, "not one number"),
        (Frame(np.zeros((3, 4), "u1"), DEGC, "a"), FrameUnreadable, "eight bits"),
    ],
)
def test_frames_of_plugins_are_held_to_the_same_checks(install, made_up, frame, kind, reason):
    reader = Reader()
    reader.open = lambda path, camera: FrameList((frame,))
    install(("madeup", reader))
    with pytest.raises(kind, match=reason):
        read_frame(made_up, DEGC)


def test_a_plugin_without_frames_is_named(install, made_up):
    reader = Reader()
    reader.open = lambda path, camera: FrameList(())
    install(("madeup", reader))
    with pytest.raises(FrameUnreadable, match="plug-in madeup found no frame"):
        open_frames(made_up, CENTIKELVIN)


def test_an_installed_package_joins_by_its_entry_point(tmp_path, monkeypatch, made_up):
    site = tmp_path / "site"
    about = site / "madeup_frames-1.0.dist-info"
    about.mkdir(parents=True)
    (about / "METADATA").write_text("Metadata-Version: 2.1\nName: madeup-frames\nVersion: 1.0\n")
    (about / "entry_points.txt").write_text("[irspot.readers]\nmadeup = madeup_frames\n")
    (site / "madeup_frames.py").write_text(
        "from tests.readers.test_plugins import Reader\naccepts, open = Reader().accepts, Reader().open\n"
    )
    monkeypatch.syspath_prepend(site)
    frame = read_frame(made_up, CENTIKELVIN)
    np.testing.assert_array_equal(frame.stored, centikelvin())
