"""A camera file given a lens, everything else in it left as it is: comments, order, spelling."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from irspot.errors import FileInvalid, Problem
from irspot.files.camera import camera_of
from irspot.files.findings import Findings
from irspot.files.toml import plain_text

LENS_KEYS = ("focal_px", "principal_px", "distortion", "size_px")
"""Keys of ``[optics]`` that `with_lens` writes."""


def refuse_hfov(path: Path) -> None:
    """Refuse a camera file that states its focal length as a field of view, which a fitted one would contradict.

    Raises
    ------
    FileInvalid
        For that, and if it is no sound camera file.
    """
    document = _sound(path)
    if "hfov_deg" in document.get("optics", {}):
        problem = Problem(
            "hfov_deg and a fitted focal_px would contradict each other",
            file=str(path),
            key="optics.hfov_deg",
            hint="take hfov_deg out, or leave out --write",
        )
        raise FileInvalid((problem,))


def with_lens(path: Path, values: Mapping[str, Any]) -> bytes:
    """Give the content of a camera file with a lens's values under ``[optics]``.

    Parameters
    ----------
    path : Path
    values : mapping
        Some of `LENS_KEYS`; ``size_px`` is written only where the file has none.

    Returns
    -------
    bytes
        A sound camera file.

    Raises
    ------
    FileInvalid
        If it is no sound camera file, before or after.
    """
    import tomlkit

    refuse_hfov(path)
    text = plain_text(path, Findings(str(path)), "a camera file")
    document = tomlkit.parse(text)
    if "optics" not in document:
        document["optics"] = tomlkit.table()
    optics: Any = document["optics"]
    for key in LENS_KEYS:
        if key in values and not (key == "size_px" and key in optics):
            _set(optics, key, values[key])
    changed = tomlkit.dumps(document)
    camera_of(tomllib.loads(changed), Findings(str(path)), path.stem)
    return changed.encode()


def _set(optics: Any, key: str, value: Any) -> None:
    """Set a value; a comment that stands behind the old one stays there."""
    import tomlkit

    item = tomlkit.item(value)
    if key in optics:
        item.trivia.comment_ws = optics[key].trivia.comment_ws
        item.trivia.comment = optics[key].trivia.comment
    optics[key] = item


def _sound(path: Path) -> dict[str, Any]:
    from irspot.files.toml import load

    findings = Findings(str(path))
    document = load(path, findings)
    camera_of(document, findings, path.stem)
    return document
