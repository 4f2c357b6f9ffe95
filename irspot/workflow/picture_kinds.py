"""The kinds of pictures, each drawn from measured shots."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from irspot.errors import UsageError
from irspot.workflow.picture_made import Look, Made, scale_of, seen_of, with_opacity
from irspot.workflow.picture_several import difference, grid
from irspot.workflow.picture_single import ONE_SHOT
from irspot.workflow.picture_source import PictureSource, Shot

STILL_KINDS: Final = (*ONE_SHOT, "grid", "difference")


def make(kind: str, shots: Sequence[Shot], look: Look, study_scale: tuple[float, float] | None, title: str) -> Made:
    """Draw a picture.

    Parameters
    ----------
    kind : str
        One of `STILL_KINDS`.
    shots : sequence of Shot
        As many as the kind shows.
    look : Look
    study_scale : tuple of float or None
    title : str
        Of a grid.

    Raises
    ------
    UsageError
        For another count of shots than the kind shows.
    IrspotError
        What kept the only shot from being drawn.
    """
    if kind == "grid":
        return grid(shots, look, scale_of(shots, look, study_scale), title)
    if kind == "difference":
        return difference(shots, look)
    shot = with_opacity(_only(shots), look.photo_opacity)
    seen = seen_of(shot)
    return ONE_SHOT[kind](shot, seen, look, scale_of(shots, look, study_scale))


def _only(shots: Sequence[Shot]) -> Shot:
    if len(shots) != 1:
        found = ", ".join(shot.run_id for shot in shots)
        raise UsageError("this picture is of one run", found=found, wanted="one --run", hint="--as grid shows several")
    return shots[0]


def check_kind(kind: str, source: PictureSource, look: Look) -> None:
    """Refuse what can be refused before anything is measured.

    Raises
    ------
    UsageError
        For a size or colour map that no picture can have, or another count of runs than the kind shows.
    """
    from irspot.rendering.colors import color_table
    from irspot.rendering.difference_picture import DIVERGING, check_diverging
    from irspot.rendering.heat import checked_size

    checked_size(look.size)
    if kind == "difference":
        check_diverging(look.cmap or DIVERGING[0])
    color_table(look.map)
    count = len(source.chosen)
    least, most = {"grid": (2, 12), "difference": (2, 2)}.get(kind, (1, 1))
    if not least <= count <= most:
        ids = ", ".join(each.id for each in source.chosen)
        wanted = {"grid": "2 to 12", "difference": "2, before and after"}.get(kind, "1")
        hint = "--as grid shows several; choose with --run" if most == 1 else f"choose with --run of {ids}"
        raise UsageError(f"--as {kind} is of so many runs", key="--run", found=f"{count}", wanted=wanted, hint=hint)
