"""The frame files a run's pattern stands for: the same on every system, in the order people count."""

from __future__ import annotations

import fnmatch
import os
import re
import unicodedata
from pathlib import Path

_MAGIC = re.compile(r"[*?\[]")


def find_frames(folder: Path, pattern: str) -> tuple[Path, ...]:
    """Find the files a pattern matches.

    Case is ignored on every system, so that a study moves between them; a name that exists as written wins over its
    reading as a pattern; files beginning with a dot match only a pattern that does.

    Parameters
    ----------
    folder : Path
        What a relative pattern is relative to.
    pattern : str
        With ``*``, ``?`` and ``[...]`` in any part; ``**`` means no more than ``*``.

    Returns
    -------
    tuple of Path
        In natural order: ``frame-2`` before ``frame-10``. Empty where nothing matches.
    """
    asked = Path(pattern)
    parts = asked.parts[1:] if asked.anchor else asked.parts
    found = [Path(asked.anchor) if asked.anchor else folder]
    for part in parts:
        found = [entry for place in found for entry in _matching(place, part)]
    return tuple(sorted((entry for entry in found if _is_file(entry)), key=natural_key))


def natural_key(path: Path) -> tuple[tuple[str | int, ...], str]:
    """Give a sorting key that counts numbers in names as numbers and ignores case.

    Examples
    --------
    >>> [p.name for p in sorted([Path("f-10.tiff"), Path("F-2.tiff")], key=natural_key)]
    ['F-2.tiff', 'f-10.tiff']
    """
    # Splitting by a group alternates text and digits, so that text only ever meets text in a comparison.
    pieces = re.split(r"([0-9]+)", str(path).lower())
    return tuple(int(piece) if index % 2 else piece for index, piece in enumerate(pieces)), str(path)


def _matching(place: Path, part: str) -> list[Path]:
    exact = place / part
    if part == os.pardir or exists(exact):
        return [exact]
    wanted = _plain(part)
    if not _MAGIC.search(part):
        return [entry for entry in _entries(place) if _plain(entry.name) == wanted]
    hidden = part.startswith(".")
    return [
        entry
        for entry in _entries(place)
        if fnmatch.fnmatchcase(_plain(entry.name), wanted) and (hidden or not entry.name.startswith("."))
    ]


def _plain(name: str) -> str:
    # Some systems store accented letters in two characters; both spellings are the same name to people.
    return unicodedata.normalize("NFC", name).lower()


def _entries(place: Path) -> list[Path]:
    try:
        return list(place.iterdir())
    except (OSError, ValueError):
        return []


def exists(path: Path) -> bool:
    """Say whether something is there; a name that no system accepts is not."""
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def why_nothing(folder: Path, pattern: str) -> str:
    """Say what may be wrong with a pattern that matches nothing; empty where nothing comes to mind."""
    if "\\" in pattern and os.sep == "/":
        return "write paths with '/'"
    place = Path(pattern).parent if Path(pattern).anchor else folder / Path(pattern).parent
    if _MAGIC.search(str(Path(pattern).parent)):
        return ""
    if not exists(place):
        return f"there is no folder '{place}'"
    names = sorted((entry for entry in _entries(place) if _is_file(entry)), key=natural_key)
    if not names:
        return f"the folder '{place}' holds no files"
    return f"the folder holds {len(names)} other file{'s' if len(names) > 1 else ''}, such as '{names[0].name}'"
