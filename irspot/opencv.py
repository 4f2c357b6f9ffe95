"""OpenCV, loaded where it is needed, with a sentence for people where it cannot be."""

from __future__ import annotations

import importlib
from types import ModuleType

from irspot.errors import LibraryMissing

_WHAT_TO_INSTALL = (
    "on Debian or Ubuntu run `apt install libgl1 libglib2.0-0` (newer releases: libglib2.0-0t64); "
    "or replace the wheel by the one without windows: "
    "`pip uninstall opencv-python`, then `pip install opencv-python-headless`"
)
_REINSTALL = (
    "opencv-python and opencv-python-headless (which the extra ocr brings along) share their files, and removing "
    "either takes them from the other: run `pip install --force-reinstall --no-deps opencv-python`"
)


def load_cv2() -> ModuleType:
    """Import OpenCV.

    Returns
    -------
    module
        ``cv2``, with its number of threads untouched.

    Raises
    ------
    LibraryMissing
        If it is not installed, has lost its files, or a system library behind it is missing, as on bare servers.
    """
    try:
        module = importlib.import_module("cv2")
    except ModuleNotFoundError as error:
        if error.name != "cv2":
            raise _broken(error) from error
        raise LibraryMissing(
            "OpenCV is not installed", hint="run `pip install opencv-python` in the environment irspot runs in"
        ) from error
    except ImportError as error:
        raise _broken(error) from error
    if not hasattr(module, "resize"):
        # A folder that was left behind imports as an empty package.
        raise LibraryMissing("OpenCV is damaged: its files are gone", found=str(list(module.__path__)), hint=_REINSTALL)
    return module


def _broken(error: ImportError) -> LibraryMissing:
    # A bare server lacks the libraries that OpenCV's windows need, though irspot never opens one.
    return LibraryMissing(
        "OpenCV is installed but cannot be loaded, most likely because a system library is missing",
        found=str(error),
        hint=_WHAT_TO_INSTALL,
    )
