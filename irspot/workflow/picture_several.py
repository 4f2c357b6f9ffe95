"""Pictures of several shots: side by side, and one less the other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from irspot.errors import UsageError
from irspot.measurement.change import changes_of, signed
from irspot.uncertain import rounded
from irspot.workflow.picture_made import Look, Made, Seen, seen_of
from irspot.workflow.picture_source import Shot

if TYPE_CHECKING:
    from irspot.rendering import Caption
    from irspot.rendering.grid import Tile


def grid(shots: Sequence[Shot], look: Look, scale: tuple[float, float], title: str) -> Made:
    """Draw shots side by side on one scale; one that cannot be shown says why in its place."""
    from irspot.rendering import Caption
    from irspot.rendering.alt_text import grid_words, scale_in_words, values_of
    from irspot.rendering.grid import grid_picture

    tiles = [_tile(shot, shots) for shot in shots]
    common = _shared(shots)
    caption = Caption(
        title or "Boards side by side", common.get("load", ""), common.get("side", ""), camera=common.get("camera", "")
    )
    picture = grid_picture(tiles, caption=caption, scale_degc=scale, cmap=look.map, size=look.size)
    told = [
        (
            f"{tile.title} ({', '.join(tile.facts)})" if tile.facts else tile.title,
            values_of(tile.readings) if not tile.problem else [],
            tile.problem,
        )
        for tile in tiles
    ]
    words = grid_words(caption, told, scale_in_words(scale))
    rows = tuple(row for shot in shots for row in shot.rows)
    failures = tuple(f"run {shot.run_id}: {shot.failure}" for shot in shots if shot.failure is not None)
    return Made(replace(picture, alt=words.alt), words, rows, scale, failures=failures)


def _shared(shots: Sequence[Shot]) -> dict[str, str]:
    """What all of a grid's shots have in common stands above them, once."""
    common = {}
    for name in ("load", "side", "camera"):
        values = {getattr(shot.caption, name) for shot in shots}
        if len(values) == 1:
            common[name] = values.pop()
    return common


def _tile(shot: Shot, shots: Sequence[Shot]) -> Tile:
    """Name in a tile what tells it from the others."""
    from irspot.rendering.grid import Tile

    common = _shared(shots)
    load = shot.label.load if shot.label is not None else shot.caption.load
    own = [shot.caption.side if "side" not in common else "", load if "load" not in common else ""]
    parts = [", ".join(part for part in own if part)]
    parts.append(f"air {shot.caption.ambient}" if shot.caption.ambient else "")
    title = shot.caption.title
    alike = [other for other in shots if other.caption.title == title]
    if len({(other.caption.side, other.caption.load) for other in alike}) < len(alike):
        title, parts = shot.run_id, [title, *parts]  # nothing but the run tells them apart
    facts = tuple(part for part in parts if part)
    problem = "" if shot.failure is None else f"not shown: {shot.failure}"
    return Tile(title, facts, shot.board, shot.surface_degc, shot.placement, shot.readings, problem)


def difference(shots: Sequence[Shot], look: Look) -> Made:
    """Draw how much hotter a board is in the second of two shots.

    Raises
    ------
    UsageError
        For another count of shots, or ones of different boards or sides.
    IrspotError
        What kept either from being shown.
    """
    from irspot.exports.json_results import number
    from irspot.rendering.alt_text import changes_in_words, words_of
    from irspot.rendering.difference_picture import DIVERGING, difference_picture

    if len(shots) != 2:
        found = ", ".join(shot.run_id for shot in shots)
        raise UsageError("a difference is of two runs, before and after", found=found, wanted="two --run")
    before, after = shots
    one, other = seen_of(before), seen_of(after)
    _check_same_board(before, one, after, other)
    same = bool(before.session) and before.session == after.session
    changes = changes_of(before.readings, after.readings, same_session=same)
    picture = difference_picture(
        (one.surface_degc, one.placement),
        (other.surface_degc, other.placement),
        other.board,
        changes,
        caption=(caption := difference_caption(before, after, same_session=same)),
        span_k=look.span_k,
        cmap=look.cmap or DIVERGING[0],
        size=look.size,
        axes=look.axes,
        board_before=one.board,
    )
    words = words_of("Change of surface temperature, after less before,", caption, changes_in_words(changes))
    listed = [
        {
            "zone": change.after.zone,
            "change_k": number(change.change_k),
            "U_change_k": number(change.U_change_k),
            "kind": change.kind,
        }
        for change in changes
    ]
    rows = (*before.rows, *after.rows)
    return Made(replace(picture, alt=words.alt), words, rows, None, {"changes": listed})


def difference_caption(before: Shot, after: Shot, *, same_session: bool) -> Caption:
    """Say which two runs are held against each other, and what differs beside the board."""
    facts = [("before", _named(before)), ("after", _named(after))]
    air = [shot.readings[0].ambient_degc for shot in (before, after)]
    known = all(math.isfinite(degc) for degc in air)
    facts.append(("air", f"{signed(rounded(air[1] - air[0], 1))} K" if known else "not known"))
    shared = "one session: the camera's limit cancels" if same_session else "the camera's limit counts twice"
    load = after.caption.load if after.caption.load == before.caption.load else ""
    return replace(after.caption, load=load, ambient="", date="", facts=tuple(facts), lines=(shared,))


def _named(shot: Shot) -> str:
    return " ".join(part for part in (shot.run_id, shot.caption.date) if part)


def _check_same_board(before: Shot, one: Seen, after: Shot, other: Seen) -> None:
    if one.placement.side != other.placement.side:
        found = f"{before.run_id} shows the {one.placement.side}, {after.run_id} the {other.placement.side}"
        raise UsageError("the two runs show different sides", found=found, hint="choose two runs of one side")
    if one.board.outline != other.board.outline:
        found = f"{one.board.name} and {other.board.name}"
        hint = "a difference is of one board before and after; --as grid shows boards side by side"
        raise UsageError("the two runs are of boards with different outlines", found=found, hint=hint)
