"""What zones results were made with, kept beside the results: whoever redraws a zone after a look at them shows it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

from irspot.errors import Problem
from irspot.study import Study

HISTORY: Final = "zone_history.json"
MOST_BYTES: Final = 64 << 20

State = dict[str, dict[str, Any]]
"""Board id → zone id → how the zone is drawn."""


def zones_now(study: Study) -> State:
    """Say how every zone of a study's boards is drawn: side, shape, what is cut out, height."""
    return {
        board.id: {
            zone.id: {
                "side": zone.side,
                "shape": _shape(zone.shape),
                "exclude": [_shape(shape) for shape in zone.exclude],
                "height_mm": zone.height_mm,
            }
            for zone in board.board.zones
        }
        for board in study.boards
    }


def _shape(shape: Any) -> dict[str, Any]:
    described: dict[str, Any] = json.loads(json.dumps({"kind": type(shape).__name__.lower(), **asdict(shape)}))
    return described


def history_with(folder: Path, study: Study) -> tuple[State, ...]:
    """Give the states that zones had whenever results were written to a folder, and the one they have now.

    Parameters
    ----------
    folder : Path
        Of the results.
    study : Study

    Returns
    -------
    tuple of State
        The same as it was where nothing was redrawn, so that a rerun leaves the same bytes.
    """
    before, now = read_history(folder), zones_now(study)
    return before if before and before[-1] == now else (*before, now)


def read_history(folder: Path) -> tuple[State, ...]:
    """Read what a folder of results keeps; nothing where there is none."""
    path = folder / HISTORY
    try:
        if path.stat().st_size > MOST_BYTES:
            return ()
        states = json.loads(path.read_text(encoding="utf-8"))["states"]
        return tuple({str(b): dict(z) for b, z in state.items()} for state in states)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return ()


def history_json(states: Sequence[State]) -> bytes:
    """Write the states, oldest first."""
    document = {
        "about": "Zones as they were drawn whenever results were first written here with them, oldest first.",
        "states": list(states),
    }
    return (json.dumps(document, indent=1, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n").encode()


def edits_of(states: Sequence[State]) -> list[dict[str, Any]]:
    """List what was redrawn after results were first seen.

    Returns
    -------
    list of dict
        ``edit`` (the how many-eth change of zones), ``board``, ``zone``, ``old`` and ``new``: None for a zone that was
        not there.
    """
    return [
        {"edit": number, "board": board, "zone": zone, "old": old, "new": new}
        for number, (before, after) in enumerate(pairwise(states), start=1)
        for board in sorted(set(before) & set(after))
        for zone, old, new in _differing(before[board], after[board])
    ]


def _differing(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[tuple[str, Any, Any]]:
    names = sorted(set(before) | set(after))
    return [(name, before.get(name), after.get(name)) for name in names if before.get(name) != after.get(name)]


def edit_warnings(states: Sequence[State]) -> tuple[Problem, ...]:
    """Say of every board whose zones were redrawn which ones."""
    edited: dict[str, dict[str, None]] = {}
    for edit in edits_of(states):
        edited.setdefault(edit["board"], {})[edit["zone"]] = None
    return tuple(
        Problem(
            f"zones were redrawn after results had been written here first: {', '.join(zones)}",
            key=f"board '{board}'",
            hint=f"{HISTORY} says what they were",
            severity="warning",
        )
        for board, zones in edited.items()
    )
