"""The reading engine of the extra ``ocr``, loaded when the first label is read."""

from __future__ import annotations

import importlib
import logging
import warnings
from functools import lru_cache
from pathlib import Path
from types import ModuleType
from typing import Any, NamedTuple

import numpy as np

from irspot.color_picture import Rgb
from irspot.errors import LibraryMissing
from irspot.opencv import load_cv2

INSTALL = "run `pip install 'irspot[ocr]'`, or give the bar's temperatures by hand (--low, --high)"


class Read(NamedTuple):
    """What the engine read, and how sure it is, from 0 to 1."""

    text: str
    score: float


def read_line(rgb: Rgb) -> Read:
    """Read a line of text from a picture that holds nothing else.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)

    Returns
    -------
    Read
        Empty, with score 0, where nothing was read.

    Raises
    ------
    LibraryMissing
        If the engine is not installed, or OpenCV is broken.
    """
    output = engine()(np.ascontiguousarray(rgb[:, :, ::-1]))
    if not output.txts:
        return Read("", 0.0)
    return Read(str(output.txts[0]), float(output.scores[0]))


@lru_cache(maxsize=1)
def engine() -> Any:
    """Load the engine with its recognition model alone, on one thread, without its log.

    Raises
    ------
    LibraryMissing
        If it or its models are not installed, or OpenCV is broken.
    """
    load_cv2()  # says what to do where it is broken; the engine would only show a traceback
    library = _import_engine()
    _require_models(library)
    single = "EngineConfig.onnxruntime."
    options = {
        "Global.log_level": "critical",
        "Global.use_det": False,
        "Global.use_cls": False,
        # A worker process reads alone; threads of its own would only fight over the cores.
        single + "intra_op_num_threads": 1,
        single + "inter_op_num_threads": 1,
    }
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return library.RapidOCR(params=options)


def _import_engine() -> ModuleType:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            importlib.import_module("onnxruntime")
            library = importlib.import_module("rapidocr")
    except ImportError as error:
        raise LibraryMissing(
            "printed labels are read by the extra ocr, which is not installed or cannot be loaded",
            found=str(error),
            hint=INSTALL,
        ) from error
    logging.getLogger("RapidOCR").setLevel(logging.CRITICAL)
    return library


def _require_models(library: ModuleType) -> None:
    """Refuse an engine without models, which would try to fetch them over the network."""
    models = Path(library.__file__ or "").parent / "models"
    if not any("rec" in model.name for model in models.glob("*.onnx")):
        raise LibraryMissing(
            "the reading engine came without its models", found=str(models), hint=f"for the extra ocr, {INSTALL}"
        )
