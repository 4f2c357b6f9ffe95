"""Studies made of numbers, with budgets, for comparisons: no frames are needed for these."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from irspot.board import Board
from irspot.camera import NO_CAMERA
from irspot.compare.cases import Measured
from irspot.compare.compare import compare
from irspot.compare.values import Comparison
from irspot.conditions import Conditions
from irspot.flags import verdict_of
from irspot.results import Reading, Row, RunLabel
from irspot.shapes import Polygon
from irspot.study import Load, Run, Study, StudyBoard
from irspot.uncertain import Term, combined, from_bound

OUTLINE = Polygon(((0.0, 0.0), (100.0, 0.0), (100.0, 80.0), (0.0, 80.0)))
LOAD = Load("stock", intended_power_w=300.0, power_point="supply")


def board(name: str, coating: str = "", **facts: Any) -> StudyBoard:
    return StudyBoard(name, Path(f"{name}.toml"), Board(name, OUTLINE, coating=coating), **facts)


def run(board_id: str, run_id: str = "", **facts: Any) -> Run:
    facts = {"load": "stock", "side": "front", "session": "monday", "power_w": 300.0, "power_point": "supply"} | facts
    return Run(id=run_id or f"{board_id}-{facts['load']}", board=board_id, frame_files=(), camera=NO_CAMERA, **facts)


def budget(limit_k: float = 2.0, own_k: float = 0.2, u_emissivity: float = 0.005) -> tuple[Term, ...]:
    """The camera's limit, shared in a session; noise; and 40 K a unit of emissivity."""
    return (
        Term("camera limit", from_bound(limit_k), 1.0, shared="session", rectangular=True),
        Term("noise", own_k, 1.0),
        Term("emissivity", u_emissivity, -40.0, acts_on="emissivity"),
    )


def reading(
    max_degc: float,
    *,
    zone: str = "ps",
    role: str = "power-stage",
    flags: Sequence[str] = (),
    ambient_degc: float = 21.0,
    u_ambient_k: float = 0.1,
    terms: tuple[Term, ...] | None = None,
    limit_degc: float | None = None,
    **further: Any,
) -> Reading:
    terms = budget() if terms is None else terms
    u_k = combined(terms)
    made = Reading(
        "f.tiff",
        further.pop("time", ""),
        zone,
        role,
        zone,
        verdict_of(flags),
        tuple(flags),
        max_degc=max_degc,
        U_max_k=2.0 * u_k,
        ambient_degc=ambient_degc,
        rise_k=max_degc - ambient_degc,
        U_rise_k=2.0 * (u_k**2 + u_ambient_k**2) ** 0.5,
        budget=terms,
        measures="case",
        cover="bare",
        conditions=Conditions(ambient_degc, u_ambient_k),
    )
    if limit_degc is not None:
        limited = {"limit_degc": limit_degc, "limit_kind": "case", "U_margin_k": 2.0 * u_k}
        made = replace(made, margin_k=limit_degc - max_degc, **limited)
    return replace(made, **further)


def measured(
    runs: Mapping[Run, Sequence[Reading]] | Sequence[tuple[Run, Sequence[Reading]]],
    boards: Sequence[StudyBoard] | None = None,
    loads: Sequence[Load] = (LOAD,),
    flags: Mapping[str, tuple[str, ...]] | None = None,
    title: str = "spring",
    **study: Any,
) -> Measured:
    pairs = list(runs.items() if isinstance(runs, Mapping) else runs)
    own = tuple(each for each, _ in pairs)
    known = boards or [board(name) for name in dict.fromkeys(each.board for each in own)]
    made = Study(title, Path(f"{title}.toml"), tuple(known), tuple(loads), own, **study)
    rows = [Row(RunLabel(r.id, r.board, r.load, r.side), each) for r, readings in pairs for each in readings]
    return Measured(made, tuple(rows), flags or {})


def compared(values: Mapping[str, float], **study: Any) -> Comparison:
    """Compare boards of one session by their temperatures."""
    return compare([measured([(run(name), [reading(degc)]) for name, degc in values.items()], **study)])
