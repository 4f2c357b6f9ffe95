"""The set of files a run of the tool leaves: whole, never over an input, never over somebody else's file.

``results.json`` is written last and lists the others with their digests: it defines the complete set. While files are
being written a small journal names them, so that an interrupted run can be repeated into the same folder.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from pathlib import Path
from typing import Any, BinaryIO

from irspot.atomic import write_atomic, write_atomic_by
from irspot.errors import OutputRefused
from irspot.workflow.provenance import file_digest

Content = bytes | Callable[[BinaryIO], object]
"""What a file is to hold, or what writes it."""

RESULTS = "results.json"
JOURNAL = ".irspot-writing"


def refuse_inputs(folder: Path, names: Iterable[str], inputs: Iterable[Path]) -> None:
    """Refuse to write over anything that was read.

    Raises
    ------
    OutputRefused
        Naming the file.
    """
    taken = {path.resolve() for path in inputs}
    for name in names:
        if (folder / name).resolve() in taken:
            raise OutputRefused(
                "is an input and will not be written over", file=str(folder / name), hint="give another -o"
            )


def refuse_strangers(folder: Path, names: Iterable[str]) -> None:
    """Refuse to replace files that an earlier run here did not write.

    Raises
    ------
    OutputRefused
        Naming the file.
    """
    ours = set(_listed(folder)) | _journalled(folder) | {RESULTS, JOURNAL}
    for name in names:
        if name not in ours and (folder / name).exists():
            raise OutputRefused(
                "exists and is not an output of an earlier run here",
                file=str(folder / name),
                hint="move it, or give another -o",
            )
    if (folder / RESULTS).exists() and not _listed(folder) and not _journalled(folder):
        raise OutputRefused(
            "exists and is not a results file of irspot", file=str(folder / RESULTS), hint="give another -o"
        )


def write_set(folder: Path, files: Mapping[str, Content]) -> dict[str, str]:
    """Write files one by one, remembering in a journal that they are ours.

    Parameters
    ----------
    folder : Path
    files : mapping of str to bytes or callable
        Name relative to the folder, with ``/``; what is too large for memory is written by a function.

    Returns
    -------
    dict of str to str
        Name → SHA-256.
    """
    old = _listed(folder)
    _journal(folder, set(files) | set(old) | _journalled(folder))
    digests = {}
    for name, content in files.items():
        write_atomic_by(folder / name, content if callable(content) else partial(_all_of, content))
        digests[name] = file_digest(folder / name) if callable(content) else hashlib.sha256(content).hexdigest()
    _remove_stale(folder, old, set(files))
    return digests


def _all_of(data: bytes, stream: BinaryIO) -> None:
    stream.write(data)


def finish(folder: Path, results: bytes) -> None:
    """Write results.json, which makes the set complete."""
    write_atomic(folder / RESULTS, results)
    (folder / JOURNAL).unlink(missing_ok=True)


def write_tables(
    folder: Path, files: Mapping[str, Content], inputs: Iterable[Path], document: dict[str, Any]
) -> dict[str, Any]:
    """Write files and then results.json, having refused to go over an input, a stranger's file or a whole run.

    Parameters
    ----------
    folder : Path
    files : mapping of str to bytes or callable
    inputs : iterable of Path
    document : dict
        Of results.json, but for its ``outputs``.

    Returns
    -------
    dict
        What results.json holds.

    Raises
    ------
    OutputRefused
    """
    from irspot.exports.json_results import dumps

    if holds_a_run(folder) and "results.csv" not in files:
        hint = "its own table is there already; give another -o"
        raise OutputRefused("holds what irspot run made, which would be lost", file=str(folder), hint=hint)
    refuse_inputs(folder, (*files, RESULTS), inputs)
    refuse_strangers(folder, files)
    complete = document | {"outputs": write_set(folder, files)}
    finish(folder, dumps(complete))
    return complete


def holds_a_run(folder: Path) -> bool:
    """Whether a folder holds the results of a whole study, all of which another set of files would replace."""
    return "results.csv" in _listed(folder)


def _journal(folder: Path, names: set[str]) -> None:
    write_atomic(folder / JOURNAL, "\n".join(sorted(names)).encode())


def _journalled(folder: Path) -> set[str]:
    try:
        return set((folder / JOURNAL).read_text(encoding="utf-8").split("\n"))
    except (OSError, UnicodeDecodeError):
        return set()


def _listed(folder: Path) -> dict[str, str]:
    """Give the outputs that the folder's results.json lists, with their digests; none if it is no such file."""
    try:
        outputs = json.loads((folder / RESULTS).read_text(encoding="utf-8"))["outputs"]
        return {str(name): str(digest) for name, digest in outputs.items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}


def _remove_stale(folder: Path, old: Mapping[str, str], new: set[str]) -> None:
    """Remove outputs of the run before that this one no longer makes, where nobody changed them since."""
    for name in set(old) - new:
        path = folder / name
        inside = folder.resolve() in path.resolve().parents
        if inside and path.is_file() and hashlib.sha256(path.read_bytes()).hexdigest() == old[name]:
            path.unlink()
