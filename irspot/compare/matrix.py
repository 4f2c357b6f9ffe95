"""The boards × loads matrix of a study: cells without a run, and cells with several."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from irspot.board import Side
from irspot.compare.cases import counting_runs
from irspot.compare.values import Gap
from irspot.study import BadRun, Run, Study


def gaps_of(study: Study) -> Iterator[Gap]:
    """List the cells that are not one run; sides count that at least half of the boards were seen from.

    Parameters
    ----------
    study : Study
    """
    runs: list[Run | BadRun] = [*study.runs, *study.bad_runs]
    counting = counting_runs(study)
    sides: tuple[Side, ...] = ("front", "rear")
    usual = [side for side in sides if 2 * len({run.board for run in runs if run.side == side}) >= len(study.boards)]
    for board in study.boards:
        for load in study.loads:
            own = [run for run in runs if (run.board, run.load) == (board.id, load.id)]
            seen = {run.side for run in own}
            for side in (each for each in sides if each in seen or each in usual):
                here = [run for run in own if run.side == side]
                counted = [run for run in counting if run in here]
                yield from _cell(study, (board.id, load.id, side), here, counted)


def _cell(
    study: Study, where: tuple[str, str, str], here: Sequence[Run | BadRun], counted: Sequence[Run]
) -> Iterator[Gap]:
    names = tuple(run.id for run in here)
    if not here:
        yield Gap(study.title, *where, "missing")
    elif len(counted) > 1:
        yield Gap(study.title, *where, "repeated", tuple(run.id for run in counted))
    elif not counted:
        rejected = [run.rejected for run in here if isinstance(run, Run) and run.rejected]
        bad = [str(run.problems[0].message) for run in here if isinstance(run, BadRun) and run.problems]
        yield Gap(study.title, *where, "rejected" if rejected else "unusable", names, "; ".join((*rejected, *bad)))
