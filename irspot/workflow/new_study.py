"""Write the templates a new study begins with."""

from __future__ import annotations

from pathlib import Path

from irspot.atomic import write_atomic
from irspot.errors import OutputRefused


def write_templates(directory: Path) -> tuple[Path, ...]:
    """Write commented templates of study, camera and board files.

    Parameters
    ----------
    directory : Path
        Made if need be.

    Returns
    -------
    tuple of Path
        The files, the study first.

    Raises
    ------
    OutputRefused
        If any of them is there already, before anything is written; or the system refuses.
    """
    from irspot.files import templates

    files = {directory.joinpath(*name.split("/")): text for name, text in templates().items()}
    for path in files:
        if path.exists() or path.is_symlink():
            raise OutputRefused(
                "the file exists already and is left as it is", file=str(path), hint="give another folder"
            )
    for path, text in files.items():
        write_atomic(path, text.encode("utf-8"), overwrite=False)
    return tuple(files)
