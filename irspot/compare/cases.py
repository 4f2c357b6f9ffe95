"""What a comparison starts from: the readings of each run, role by role, and the facts the run was taken under."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from irspot.board import ELSEWHERE
from irspot.compare.estimates import Estimate, Source
from irspot.constants import METHOD
from irspot.measurement.normalised import nonlinearity_k
from irspot.results import Reading, Row
from irspot.study import Load, Run, Study, StudyBoard
from irspot.uncertain import Term, from_bound

_OF_THE_SURFACE: Final = frozenset({"emissivity", "reflected", "transmission", "window"})
"""What errors of these act on stays the same, or may, when one board is measured again."""


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """One study with what was measured of it.

    Parameters
    ----------
    study : Study
    rows : tuple of Row
        Of results.csv.
    run_flags : mapping of str to tuple of str
        Flags of `irspot.run_flags`, by run id.
    methods : mapping of str to int
        METHOD that rows were made by, by run id; of others today's.
    """

    study: Study
    rows: tuple[Row, ...]
    run_flags: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    methods: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """The zones of one role in one run.

    Parameters
    ----------
    at : int
        Place of its study among those compared.
    study : Study
    run : Run
    board : StudyBoard
    load : Load
    role : str
    readings : tuple of Reading
        Of the frame that counts.
    flags : tuple of str
        Of the run.
    method : int
    stills : int
        Frames of the run; the last one counts.
    """

    at: int
    study: Study
    run: Run
    board: StudyBoard
    load: Load
    role: str
    readings: tuple[Reading, ...]
    flags: tuple[str, ...] = ()
    method: int = METHOD
    stills: int = 1

    @property
    def batch(self) -> str:
        """What its board was bought with; of an earlier study at least that study."""
        return self.board.batch or (self.study.title if self.at else "")

    @property
    def sample(self) -> Source:
        """The board itself: one sample, whichever study measures it, only if it is the reference board."""
        name = self.board.id
        return ("", name) if name == self.study.reference_board else (str(self.at), name)


def cases_of(at: int, measured: Measured) -> Iterator[Case]:
    """Give the cases of a study: runs that count, frame by frame reduced to the last one measured.

    Parameters
    ----------
    at : int
    measured : Measured
    """
    study = measured.study
    rows: dict[str, list[Reading]] = {}
    for row in measured.rows:
        rows.setdefault(row.label.run, []).append(row.reading)
    for run in counting_runs(study):
        readings = rows.get(run.id, [])
        frames = list(dict.fromkeys(reading.frame for reading in readings))
        board, load = study.board(run.board), study.load(run.load)
        by_role: dict[str, list[Reading]] = {}
        for reading in readings:
            if reading.role and reading.zone != ELSEWHERE:
                by_role.setdefault(reading.role, []).append(reading)
        for role, of_role in by_role.items():
            kept = tuple(_last(of_role, zone) for zone in dict.fromkeys(each.zone for each in of_role))
            flags = measured.run_flags.get(run.id, ())
            method = measured.methods.get(run.id, METHOD)
            yield Case(at, study, run, board, load, role, kept, flags, method, len(frames))


def counting_runs(study: Study) -> list[Run]:
    """List the runs that count: neither rejected, nor replaced by a run that is not rejected itself."""
    replaced = {run.replaces for run in study.runs if run.replaces and not run.rejected}
    return [run for run in study.runs if not run.rejected and run.id not in replaced]


def _last(readings: Sequence[Reading], zone: str) -> Reading:
    own = [reading for reading in readings if reading.zone == zone]
    sound = [reading for reading in own if reading.verdict != "retake"]
    return (sound or own)[-1]


def value_of(case: Case, reading: Reading) -> Estimate:
    """Give a zone's highest temperature with its sources of error."""
    parts: dict[Source, float] = {}
    for term in reading.budget:
        source = _source_of(case, reading, term)
        parts[source] = parts.get(source, 0.0) + term.sensitivity * term.u_input
    if not reading.budget and math.isfinite(reading.U_max_k):
        parts[("budget", str(case.at), case.run.id, reading.zone)] = reading.U_max_k / 2.0
    return Estimate(reading.max_degc, parts)


def rise_of(case: Case, reading: Reading) -> Estimate:
    """Give a zone's rise over ambient; the thermometer in the air is each run's own."""
    value = value_of(case, reading)
    rise = Estimate(reading.rise_k, value.parts)
    return rise.with_part(("ambient", str(case.at), case.run.id), reading.conditions.u_ambient_k)


def at_reference(case: Case, reading: Reading, rise: Estimate, reference_degc: float | None) -> Estimate:
    """Widen a rise by what differs at the reference ambient."""
    if reference_degc is None or not math.isfinite(reading.ambient_degc):
        return rise
    u_k = from_bound(nonlinearity_k(rise.value, reading.ambient_degc, reference_degc))
    return rise.with_part(("other air", str(case.at), case.run.id), u_k)


def _source_of(case: Case, reading: Reading, term: Term) -> Source:
    at, run = str(case.at), case.run
    if term.shared == "session":
        camera = str(run.camera_file or run.camera.name)
        # Without a session nothing says that two runs share the camera's error.
        return (term.name, at, camera, f"session {run.session}" if run.session else f"run {run.id}")
    if term.acts_on == "emissivity":
        return (term.name, *case.sample, reading.zone)
    if term.acts_on in _OF_THE_SURFACE:
        return (term.name, at, case.board.id, reading.zone)
    return (term.name, at, run.id, reading.zone)
