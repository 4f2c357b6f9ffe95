from __future__ import annotations

import importlib

import pytest

from irspot.errors import LibraryMissing
from irspot.opencv import load_cv2


def test_it_is_opencv():
    assert load_cv2().__name__ == "cv2"


def _fail(monkeypatch, error):
    def _import(name, *more):
        if name == "cv2":
            raise error
        return real(name, *more)

    real = importlib.import_module
    monkeypatch.setattr(importlib, "import_module", _import)


@pytest.mark.parametrize(
    "error",
    [
        ImportError("libGL.so.1: cannot open shared object file: No such file or directory"),
        ImportError("libgthread-2.0.so.0: cannot open shared object file: No such file or directory"),
        ModuleNotFoundError("No module named 'numpy'", name="numpy"),
    ],
)
def test_a_missing_system_library_says_what_to_install(monkeypatch, error):
    _fail(monkeypatch, error)
    with pytest.raises(LibraryMissing) as caught:
        load_cv2()
    told = str(caught.value)
    assert str(error) in told
    assert "apt install libgl1 libglib2.0-0" in told
    assert "opencv-python-headless" in told
    assert "\n" not in told


def test_opencv_itself_missing_is_told_apart(monkeypatch):
    _fail(monkeypatch, ModuleNotFoundError("No module named 'cv2'", name="cv2"))
    with pytest.raises(LibraryMissing, match="OpenCV is not installed; run `pip install opencv-python`"):
        load_cv2()
