"""Write the demo study, and the small sample study that lies in the repository."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from irspot.atomic import write_atomic


def write_demo(directory: Path) -> Path:
    """Write the demo study: four invented boards, two loads, front and rear, with the truth beside it.

    Parameters
    ----------
    directory : Path
        Made if need be; nothing in it is overwritten.

    Returns
    -------
    Path
        The study file.

    Raises
    ------
    OutputRefused
        If a file of the study is there already with other content, or the system refuses.
    """
    from irspot.synthetic.demo import demo_contents

    return _write(directory, demo_contents())


def write_samples(directory: Path) -> Path:
    """Write the sample study: two of the demo's boards, everything else alike.

    Parameters
    ----------
    directory : Path
        Made if need be; nothing in it is overwritten.

    Returns
    -------
    Path
        The study file.

    Raises
    ------
    OutputRefused
        If a file of the study is there already with other content, or the system refuses.
    """
    from irspot.synthetic.demo import sample_contents

    return _write(directory, sample_contents())


def _write(directory: Path, contents: Iterable[tuple[str, bytes]]) -> Path:
    """Write files as they come; the study file comes last, so a study that is there is whole."""
    written = directory
    for name, content in contents:
        written = directory.joinpath(*name.split("/"))
        if not _holds(written, content):
            write_atomic(written, content, overwrite=False)
    return written


def _holds(file: Path, content: bytes) -> bool:
    """Say whether a file is there with just this content, so that writing the same study again is no conflict."""
    return file.is_file() and file.read_bytes() == content
