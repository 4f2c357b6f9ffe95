"""Pictures and what is said of them as files: whole or absent, never over an input, never over another file."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, Final

from irspot.atomic import write_atomic, write_atomic_by
from irspot.constants import METHOD
from irspot.errors import OutputRefused, UsageError
from irspot.results import Row
from irspot.version import __version__
from irspot.workflow.outputs import refuse_inputs
from irspot.workflow.picture_film import FilmKind, Shown, film_kind
from irspot.workflow.picture_made import Made
from irspot.workflow.pool import Progress, silent

SIDECARS: Final = (".txt", ".json")


def check_output(file: Path, inputs: Iterable[Path]) -> None:
    """Refuse a still picture's file before any work.

    Raises
    ------
    UsageError
        For a file that is no PNG by its name.
    OutputRefused
        For an input.
    """
    if file.suffix.lower() != ".png":
        raise UsageError("the picture is a PNG", file=str(file), wanted="a name that ends in .png")
    refuse_inputs(file.parent, [file.name], inputs)


def check_film(file: Path, size: tuple[int, int], inputs: Iterable[Path]) -> FilmKind:
    """Refuse a moving picture before it is measured, which may take long.

    Returns
    -------
    {"gif", "mp4", "png"}

    Raises
    ------
    UsageError
        For a name of another kind, or a size that the kind cannot have.
    OutputRefused
        For an input, or a file that is there.
    LibraryMissing
        For an MP4 without PyAV.
    """
    from irspot.rendering.film_files import check_even, need_av
    from irspot.rendering.heat import checked_size

    kind = film_kind(file)
    checked_size(size)
    first = numbered(file, 1) if kind == "png" else file
    refuse_inputs(file.parent, [first.name], inputs)
    if kind == "mp4":
        check_even(size)
        need_av()
    if kind != "png":
        refuse_existing(file)
    return kind


def check_sidecar(file: Path | None, picture: Path, inputs: Iterable[Path]) -> None:
    """Refuse a sidecar's file before any work.

    Raises
    ------
    UsageError
        For another ending than .txt or .json.
    OutputRefused
        For an input.
    """
    if file is None:
        return
    if file.suffix.lower() not in SIDECARS or file == picture:
        raise UsageError("words go to a text or JSON file", file=str(file), wanted="a name that ends in .txt or .json")
    refuse_inputs(file.parent, [file.name], inputs)


def write_new(file: Path, content: bytes) -> None:
    """Write a file that is not there yet; one that holds just this already may stay.

    Raises
    ------
    OutputRefused
        If another is there.
    """
    if file.is_file() and file.read_bytes() == content:
        return
    refuse_existing(file)
    write_atomic(file, content, overwrite=False)


def refuse_existing(file: Path) -> None:
    """Refuse to replace a file.

    Raises
    ------
    OutputRefused
    """
    if file.exists():
        hint = "move it, or give another name"
        raise OutputRefused("exists already and is left as it is", file=str(file), hint=hint)


def write_made(made: Made, kind: str, file: Path, sidecar: Path | None) -> None:
    """Write a picture, and what is said of it where that is wanted.

    Parameters
    ----------
    made : Made
    kind : str
    file : Path
    sidecar : Path or None
    """
    write_new(file, made.picture.png_bytes())
    if sidecar is not None:
        about = _about(kind, file.name, made.picture.size, made.scale)
        about |= made.further | {"texts": list(made.picture.texts)}
        write_new(sidecar, _sidecar(sidecar, made.words.caption, made.words.alt, about, made.rows))


def write_film(
    shown: Shown, kind: FilmKind, file: Path, sidecar: Path | None, fps: float, progress: Progress = silent
) -> tuple[str, ...]:
    """Write a moving picture, and what is said of it where that is wanted.

    Parameters
    ----------
    shown : Shown
    kind : {"gif", "mp4", "png"}
    file : Path
        Of a sequence of PNGs the first part of their names: ``warm.png`` makes ``warm-0001.png`` and so on.
    sidecar : Path or None
    fps : float
        Pictures a second.
    progress : callable

    Returns
    -------
    tuple of str
        Names of the files with pictures.
    """
    from irspot.rendering.film_files import write_gif, write_mp4

    names: tuple[str, ...] = (file.name,)
    pictures = shown.pictures(progress)
    if kind == "gif":
        ends = (shown.picture(0), shown.picture(len(shown.moments) - 1))
        write_atomic_by(file, lambda stream: write_gif(stream, pictures, ends, shown.film.scale, fps), overwrite=False)
    elif kind == "mp4":
        size = shown.film.page.size
        write_atomic_by(file, lambda stream: write_mp4(stream, pictures, size, fps), overwrite=False)
    else:
        files = [numbered(file, number) for number in range(1, len(shown.moments) + 1)]
        for each, picture in zip(files, pictures, strict=True):
            write_new(each, picture.png_bytes())
        names = tuple(each.name for each in files)
    if sidecar is not None:
        about = _about("warm-up", file.name, shown.film.page.size, shown.scale_degc)
        about |= {"pictures": len(shown.moments), "times_s": [moment.time_s for moment in shown.moments]}
        about |= {"pictures_a_second": fps}
        write_new(sidecar, _sidecar(sidecar, shown.words.caption, shown.words.alt, about, shown.rows))
    return names


def numbered(file: Path, number: int) -> Path:
    """Name one picture of a sequence.

    Examples
    --------
    >>> numbered(Path("out/warm.png"), 7).name
    'warm-0007.png'
    """
    return file.with_name(f"{file.stem}-{number:04d}{file.suffix}")


def _about(kind: str, name: str, size: tuple[int, int], scale: tuple[float, float] | None) -> dict[str, Any]:
    return {
        "irspot": __version__,
        "method": METHOD,
        "picture": name,
        "kind": kind,
        "size_px": list(size),
        "scale_degc": None if scale is None else list(scale),
    }


def _sidecar(file: Path, caption: str, alt: str, about: dict[str, Any], rows: Sequence[Row]) -> bytes:
    """Put a picture into words: the caption and the alt text, and in JSON the rows behind its numbers too."""
    if file.suffix.lower() == ".txt":
        return f"{caption}\n\n{alt}\n".encode()
    from irspot.columns import SERIES_COLUMNS
    from irspot.exports.json_results import dumps, table_json

    return dumps(about | {"caption": caption, "alt": alt, "rows": table_json(rows, SERIES_COLUMNS)})
