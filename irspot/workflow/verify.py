"""A bundle verified: digests checked, everything measured anew, every number compared."""

from __future__ import annotations

import csv
import io
import json
import math
import os
import tempfile
import tomllib
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path, PureWindowsPath
from typing import Any, Final

from irspot.constants import METHOD
from irspot.errors import BundleRefused
from irspot.readers.plugins import NONE_WANTED
from irspot.workflow.bundle import FORMAT, texts_of
from irspot.workflow.bundle_members import (
    MANIFEST,
    MOST_MANIFEST_BYTES,
    checked_members,
    opened_bundle,
    place_in,
    unpack,
)
from irspot.workflow.pool import Progress, silent
from irspot.workflow.study_document import inputs_of

TOLERANCE: Final = 1e-6
"""Numbers that are further apart differ."""
_TABLES: Final = ("soak.csv", "crosscheck.csv", "compare.csv")
_NAMED_BY: Final = ("run", "load", "board", "frame", "time_s", "zone", "site")
_MOST_LISTED: Final = 10_000


@dataclass(frozen=True, slots=True)
class Difference:
    """One number or text that is not what the bundle says.

    Parameters
    ----------
    table, row, column : str
    old, new : str
    """

    table: str
    row: str
    column: str
    old: str
    new: str


@dataclass(frozen=True, slots=True)
class Verification:
    """What verifying a bundle gave.

    Parameters
    ----------
    title : str
    old_method, method : int
        Of the bundle, and of this version.
    old_version : str
        Of irspot, that made it.
    members, compared : int
        Files whose digest was checked, and cells compared.
    differences : tuple of Difference
    damaged : tuple of str
        Members whose digest is another.
    edits : tuple of dict
        Zones redrawn after results were first seen.
    """

    title: str
    old_method: int
    method: int
    old_version: str
    members: int
    compared: int
    differences: tuple[Difference, ...] = ()
    damaged: tuple[str, ...] = ()
    edits: tuple[dict[str, Any], ...] = ()

    @property
    def holds(self) -> bool:
        """Whether nothing was damaged, and no number differs but by another method."""
        return not self.damaged and (not self.differences or self.old_method != self.method)


def verify_bundle(
    path: str | os.PathLike[str], *, plugins: bool = False, most_bytes: int = 64 << 30, progress: Progress = silent
) -> Verification:
    """Check a bundle's digests, measure its study anew and compare every number.

    Parameters
    ----------
    path : path
    plugins : bool
        Whether readers of other packages may be asked.
    most_bytes : int
        What it may unpack to.
    progress : callable

    Returns
    -------
    Verification

    Raises
    ------
    BundleRefused
        If it is not a bundle that may be opened.
    FileInvalid
        If its study cannot be read.
    """
    bundle = Path(path)
    with opened_bundle(bundle) as archive, tempfile.TemporaryDirectory(prefix="irspot-verify-") as temporary:
        folder = Path(temporary).resolve()
        members = checked_members(archive, bundle, most_bytes)
        manifest = _manifest(archive, members, bundle)
        damaged = _unpacked(archive, members, manifest, folder, bundle)
        about = _Facts(manifest, len(members), tuple(damaged), _edits(folder))
        if damaged:
            return about.verification(0, ())
        with _plugins_asked(plugins):
            _refuse_escapes(folder, manifest, bundle)
            return about.verification(*_compared(folder, manifest, bundle, progress))


@dataclass(frozen=True, slots=True)
class _Facts:
    """What a bundle says of itself."""

    manifest: dict[str, Any]
    members: int
    damaged: tuple[str, ...]
    edits: tuple[dict[str, Any], ...]

    def verification(self, compared: int, differences: tuple[Difference, ...]) -> Verification:
        """Put it together with what was found."""
        versions = self.manifest["versions"]
        made_by = str(versions.get("irspot", "")) if isinstance(versions, Mapping) else ""
        return Verification(
            str(self.manifest["title"]),
            int(self.manifest["method"]),
            METHOD,
            made_by,
            self.members,
            compared,
            differences,
            self.damaged,
            self.edits,
        )


def _manifest(archive: zipfile.ZipFile, members: Mapping[str, zipfile.ZipInfo], bundle: Path) -> dict[str, Any]:
    if MANIFEST not in members:
        raise BundleRefused(f"has no {MANIFEST}: it is no evidence bundle", file=str(bundle))
    if members[MANIFEST].file_size > MOST_MANIFEST_BYTES:
        raise BundleRefused("is too large", file=str(bundle), key=MANIFEST)
    text = io.BytesIO()
    unpack(archive, members[MANIFEST], text, bundle)
    try:
        manifest = json.loads(text.getvalue())
        sound = (
            isinstance(manifest["format"], int)
            and isinstance(manifest["method"], int)
            and isinstance(manifest["study"], str)
            and isinstance(manifest["title"], str)
            and isinstance(manifest["versions"], dict)
            and all(
                isinstance(each["sha256"], str) and isinstance(each["bytes"], int)
                for each in manifest["members"].values()
            )
        )
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise BundleRefused("is not a bundle's", file=str(bundle), key=MANIFEST) from error
    if not sound:
        raise BundleRefused("is not a bundle's", file=str(bundle), key=MANIFEST)
    if manifest["format"] != FORMAT:
        raise BundleRefused(
            "is of a format that this version cannot read",
            file=str(bundle),
            found=str(manifest["format"]),
            wanted=str(FORMAT),
            hint="use the version of irspot that its manifest names",
        )
    stray, missing = set(members) - set(manifest["members"]) - {MANIFEST}, set(manifest["members"]) - set(members)
    if stray or missing or manifest["study"] not in manifest["members"]:
        name = sorted(stray or missing or {manifest["study"]})[0]
        what = "is not listed in the manifest" if stray else "is listed in the manifest and not there"
        raise BundleRefused(what, file=str(bundle), key=name[:200])
    checked: dict[str, Any] = manifest
    return checked


def _unpacked(
    archive: zipfile.ZipFile,
    members: Mapping[str, zipfile.ZipInfo],
    manifest: dict[str, Any],
    folder: Path,
    bundle: Path,
) -> list[str]:
    """Unpack every member that is listed, and name those whose content is not what the manifest says."""
    found = []
    for name, listed in manifest["members"].items():
        place = place_in(folder, name)
        place.parent.mkdir(parents=True, exist_ok=True)
        with place.open("xb") as target:
            digest = unpack(archive, members[name], target, bundle)
        if digest != listed["sha256"] or members[name].file_size != listed["bytes"]:
            found.append(name)
    return found


def _edits(folder: Path) -> tuple[dict[str, Any], ...]:
    try:
        document = json.loads((folder / "zone_edits.json").read_text(encoding="utf-8"))
        return tuple(dict(edit) for edit in document["edits"])
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return ()


def _refuse_escapes(folder: Path, manifest: dict[str, Any], bundle: Path) -> None:
    """Refuse a study that names files outside of the bundle: they would be read on the verifier's machine."""
    from irspot.files import read_study

    files = (folder / "files").resolve()
    # Reading a study opens what it names, and lists folders for its patterns: its text is looked at before.
    _refuse_paths_out(files, place_in(folder, manifest["study"]), bundle)
    for path in inputs_of(read_study(place_in(folder, manifest["study"]))):
        resolved = path.resolve()
        inside = resolved.is_relative_to(files)
        if not inside or f"files/{resolved.relative_to(files).as_posix()}" not in manifest["members"]:
            name = path.name if inside else str(path)[-200:]
            raise BundleRefused("names a file that is not in the bundle", file=str(bundle), found=name)


def _refuse_paths_out(files: Path, study: Path, bundle: Path) -> None:
    try:
        document = tomllib.loads(study.read_text(encoding="utf-8"))
    except (ValueError, RecursionError):
        return  # whoever reads it says what is wrong with it, and opens nothing else
    for key, text in texts_of(document):
        named = PureWindowsPath(text)
        absolute = Path(text).is_absolute() or bool(named.drive or named.root)
        if absolute or not Path(os.path.normpath(study.resolve().parent / text)).is_relative_to(files):
            raise BundleRefused("names a file that is not in the bundle", file=str(bundle), key=key, found=text[:200])


@contextmanager
def _plugins_asked(wanted: bool) -> Iterator[None]:
    before = os.environ.get(NONE_WANTED)
    if not wanted:
        os.environ[NONE_WANTED] = "1"
    try:
        yield
    finally:
        if before is None:
            os.environ.pop(NONE_WANTED, None)
        else:
            os.environ[NONE_WANTED] = before


def _compared(
    folder: Path, manifest: dict[str, Any], bundle: Path, progress: Progress
) -> tuple[int, tuple[Difference, ...]]:
    from irspot.workflow.run import run_study

    new = folder / "anew"
    again = run_study(place_in(folder, manifest["study"]), new, pictures=False, progress=progress)
    if again.problems:
        # It could be measured when it was packed: what keeps it from that here says more than every cell that differs.
        first = again.problems[0]
        raise BundleRefused("could not be measured whole again", file=str(bundle), found=first.message, hint=first.hint)
    old = folder / "results"
    old_rows, new_rows = (_rows_of(place / "results.json", bundle) for place in (old, new))
    compared, differences = _rows_compared("results", old_rows, new_rows, _number_differs)
    for name in (*_TABLES, *sorted(_series(old) | _series(new))):
        if not (old / name).is_file() and not (new / name).is_file():
            continue
        cells, found = _rows_compared(name, _table(old / name), _table(new / name), _printed_differs)
        compared, differences = compared + cells, [*differences, *found]
    return compared, tuple(differences[:_MOST_LISTED])


def _series(folder: Path) -> set[str]:
    return {f"series/{path.name}" for path in (folder / "series").glob("*.csv")}


def _rows_of(path: Path, bundle: Path) -> list[dict[str, Any]]:
    try:
        rows = json.loads(path.read_text(encoding="utf-8"))["rows"]
        return [dict(row) for row in rows]
    except (OSError, ValueError, KeyError, TypeError, RecursionError) as error:
        raise BundleRefused("holds no results that can be read", file=str(bundle), key=path.name) from error


def _table(path: Path) -> Iterator[Mapping[str, Any]]:
    """Read a table row by row: one of an hour's every frame is long."""
    if path.is_file():
        with path.open(encoding="utf-8", newline="") as stream:
            yield from csv.DictReader(stream)


def _rows_compared(
    table: str, old: Iterable[Mapping[str, Any]], new: Iterable[Mapping[str, Any]], differs: Callable[[Any, Any], bool]
) -> tuple[int, list[Difference]]:
    compared, found = 0, []
    nothing: Mapping[str, Any] = {}
    for number, (before, after) in enumerate(zip_longest(old, new, fillvalue=nothing), start=1):
        shown = before or after
        row = " ".join(str(shown[key]) for key in _NAMED_BY if shown.get(key)) or str(number)
        for column in dict.fromkeys([*before, *after]):
            compared += 1
            if differs(before.get(column), after.get(column)):
                found.append(Difference(table, row, str(column), _text(before.get(column)), _text(after.get(column))))
    return compared, found


def _number_differs(old: Any, new: Any) -> bool:
    if _is_number(old) and _is_number(new):
        return not math.isclose(old, new, rel_tol=0.0, abs_tol=TOLERANCE)
    return bool(old != new)


def _printed_differs(old: Any, new: Any) -> bool:
    """Compare cells of a table: a number that stood between two printed ones may round either way."""
    if old == new:
        return False
    try:
        digits = len(str(old).partition(".")[2])
        return abs(float(old) - float(new)) > 1.001 * 10.0**-digits or digits == 0
    except (TypeError, ValueError):
        return True


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _text(value: Any) -> str:
    return "" if value is None else str(value)[:200]
