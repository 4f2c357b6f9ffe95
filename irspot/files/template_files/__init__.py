"""Commented templates of study, camera and board files, as a new study begins with them."""

from __future__ import annotations

from pathlib import Path
from typing import Final

PLACES: Final = {"study.toml": "study.toml", "camera.toml": "camera.toml", "board.toml": "boards/example.toml"}
"""File of this folder → place in a new study."""


def all_templates() -> dict[str, str]:
    """Give every template.

    Returns
    -------
    dict of str to str
        Place in a new study, with ``/``, to text.
    """
    here = Path(__file__).parent
    return {place: (here / name).read_bytes().decode("utf-8") for name, place in PLACES.items()}
