"""An evidence bundle: everything a study's numbers follow from, with digests, in one ZIP file."""

from __future__ import annotations

import hashlib
import json
import os
import platform
import tempfile
import tomllib
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, BinaryIO, Final

from irspot.atomic import write_atomic_by
from irspot.constants import METHOD
from irspot.errors import BundleRefused, OutputRefused
from irspot.study import Study
from irspot.version import __version__
from irspot.workflow.bundle_members import MANIFEST, MOST_MEMBERS, PIECE_BYTES, portable_fault
from irspot.workflow.pool import Progress, silent
from irspot.workflow.run import StudyResult, run_study
from irspot.workflow.study_document import inputs_of
from irspot.workflow.zone_history import HISTORY, State, edits_of, read_history, zones_now

FORMAT: Final = 1
EDITS: Final = "zone_edits.json"
_STAMP: Final = (1980, 1, 1, 0, 0, 0)
"""Of every member: a bundle of the same files is the same file."""
_TEXTS: Final = frozenset({".toml", ".json", ".csv", ".tsv", ".txt", ".raw", ".npy", ".bmp"})
"""Endings of what deflate makes smaller; frames and photos of other formats are packed already."""
_MOST_DEFLATED_BYTES: Final = 256 << 20
"""What is longer is stored as it is: packing an hour's recording takes longer than measuring it."""
_LIBRARIES: Final = ("numpy", "scipy", "opencv-python", "scikit-image", "tifffile", "imagecodecs", "pillow")


@dataclass(frozen=True, slots=True)
class Bundle:
    """What a bundle holds.

    Parameters
    ----------
    path : Path
    members : int
    result : StudyResult
        Of the study, evaluated for it.
    edits : int
        Zones redrawn after results were first seen.
    """

    path: Path
    members: int
    result: StudyResult
    edits: int


def bundle_study(
    study_file: str | os.PathLike[str],
    path: str | os.PathLike[str],
    *,
    results: Path | None = None,
    progress: Progress = silent,
) -> Bundle:
    """Evaluate a study and pack it with everything it was made from.

    Parameters
    ----------
    study_file : path
    path : path
        The bundle; never written over a file that is there.
    results : Path, optional
        Folder of results that were shown: how its zones were redrawn goes into the bundle; its numbers must be those
        that the study gives now.
    progress : callable

    Returns
    -------
    Bundle

    Raises
    ------
    FileInvalid
        If the study cannot be used.
    BundleRefused
        If a file it names cannot be packed so that it is found again, or the results are not the study's.
    OutputRefused
        If the bundle cannot be written.
    """
    from irspot.files import read_study

    target = Path(path)
    if target.exists():
        raise OutputRefused("exists already and is left as it is", file=str(target), hint="give another -o")
    study = read_study(Path(study_file))
    if study.bad_runs:
        raise BundleRefused(
            "a study with runs that cannot be evaluated is no evidence",
            file=str(study.file),
            found=", ".join(bad.id for bad in study.bad_runs),
            hint="see irspot check",
        )
    sources = dict(sorted(_sources(study).items()))
    with tempfile.TemporaryDirectory(prefix="irspot-bundle-") as folder:
        made = run_study(study.file, Path(folder), pictures=False, progress=progress)
        if made.problems:
            raise BundleRefused(
                "not all of the study could be measured", file=str(study.file), found=str(made.problems[0])
            )
        states = _states(study, results, Path(folder))
        edits = edits_of(states)
        extra = {EDITS: _json({"about": _ABOUT_EDITS, "edits": edits, "states": list(states)})}
        outputs = {f"results/{name}": Path(folder) / name for name in made.outputs}
        packed = {**{f"files/{name}": file for name, file in sources.items()}, **outputs}
        if len(packed) + 2 > MOST_MEMBERS:
            raise BundleRefused("has too many files", file=str(study.file), found=str(len(packed)))
        about = _about(study, sources)
        write_atomic_by(target, lambda stream: _pack(stream, packed, extra, about, progress), overwrite=False)
    return Bundle(target, len(packed) + 2, made, len(edits))


_ABOUT_EDITS: Final = "Zones redrawn after results were first written, old and new; empty where none was."


def _states(study: Study, results: Path | None, fresh: Path) -> tuple[State, ...]:
    """Give the states of zones known, having held the results shown against those of now."""
    if results is None:
        return (zones_now(study),)
    shown, now = results / "results.csv", fresh / "results.csv"
    if not shown.is_file() or shown.read_bytes() != now.read_bytes():
        raise BundleRefused(
            "does not hold the results that the study gives now",
            file=str(results),
            hint=f"run 'irspot run {study.file} -o {results}' again and look at what changed",
        )
    return read_history(results) or (zones_now(study),)


def _sources(study: Study) -> dict[str, Path]:
    """Name every file by its place under the folder that holds them all, so that relative paths stay right.

    Raises
    ------
    BundleRefused
        For files that are named by absolute paths, and names that not every system can store.
    """
    _refuse_absolute(study)
    files = [Path(os.path.abspath(path)) for path in dict.fromkeys(inputs_of(study)) if path.is_file()]
    root = Path(os.path.commonpath([file.parent for file in files]))
    named = {file.relative_to(root).as_posix(): file for file in files}
    for name, file in named.items():
        if fault := portable_fault(name):
            raise BundleRefused(f"has a name that {fault}", file=str(file), hint="rename it")
    if len({name.casefold() for name in named}) < len(named):
        raise BundleRefused("names files that differ in upper and lower case alone", file=str(study.file))
    return named


def _refuse_absolute(study: Study) -> None:
    with study.file.open("rb") as stream:
        document = tomllib.load(stream)
    for key, text in texts_of(document):
        if Path(text).is_absolute():
            raise BundleRefused(
                "names a file by an absolute path, which is no path on another machine",
                file=str(study.file),
                key=key,
                found=text[:200],
                hint="name it relative to the study file",
            )


def texts_of(value: Any, key: str = "") -> Iterator[tuple[str, str]]:
    """Give key path and text of all in a study file that may be a path."""
    if isinstance(value, str) and key.rsplit(".", 1)[-1] not in ("notes", "description", "title"):
        yield key, value
    elif isinstance(value, Mapping):
        for name, item in value.items():
            yield from texts_of(item, f"{key}.{name}" if key else str(name))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from texts_of(item, f"{key}[{index}]")


def _about(study: Study, sources: Mapping[str, Path]) -> dict[str, Any]:
    own = Path(os.path.abspath(study.file))
    (name,) = [name for name, file in sources.items() if file == own]
    return {
        "format": FORMAT,
        "study": f"files/{name}",
        "title": study.title,
        "method": METHOD,
        "versions": {"irspot": __version__, "python": platform.python_version(), **dict(_versions(_LIBRARIES))},
        "about": "irspot verify checks every digest, measures anew and compares every number.",
    }


def _versions(names: Iterable[str]) -> Iterator[tuple[str, str]]:
    for name in names:
        try:
            yield name, version(name)
        except PackageNotFoundError:
            continue


def _pack(
    stream: BinaryIO, files: Mapping[str, Path], extra: Mapping[str, bytes], about: dict[str, Any], progress: Progress
) -> None:
    listed: dict[str, dict[str, Any]] = {}
    with zipfile.ZipFile(stream, "w", allowZip64=True) as archive:
        for number, (name, file) in enumerate(files.items(), start=1):
            with file.open("rb") as source:
                pieces = iter(lambda source=source: source.read(PIECE_BYTES), b"")  # type: ignore[misc]
                listed[name] = _put(archive, name, pieces, file.stat().st_size)
            progress(number, len(files), f"packed {name}")
        for name, data in extra.items():
            listed[name] = _put(archive, name, [data], len(data))
        manifest = _json({**about, "members": listed})
        _put(archive, MANIFEST, [manifest], len(manifest))


def _put(archive: zipfile.ZipFile, name: str, pieces: Iterable[bytes], size: int) -> dict[str, Any]:
    member = zipfile.ZipInfo(name, _STAMP)
    member.external_attr = 0o100644 << 16
    member.create_system = 3
    deflated = Path(name).suffix.lower() in _TEXTS and size <= _MOST_DEFLATED_BYTES
    member.compress_type = zipfile.ZIP_DEFLATED if deflated else zipfile.ZIP_STORED
    digest, done = hashlib.sha256(), 0
    with archive.open(member, "w", force_zip64=size >= 1 << 31) as target:
        for piece in pieces:
            target.write(piece)
            digest.update(piece)
            done += len(piece)
    return {"bytes": done, "sha256": digest.hexdigest()}


def _json(document: dict[str, Any]) -> bytes:
    return (json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()


__all__ = ["EDITS", "FORMAT", "HISTORY", "Bundle", "bundle_study"]
