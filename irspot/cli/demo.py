"""``irspot demo``: the demo study made and run."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from irspot.cli.options import FilePath

if TYPE_CHECKING:
    from irspot.workflow.run import StudyResult


@click.command()
@click.argument("directory", type=FilePath)
@click.option("--full", is_flag=True, help="The large study: twelve boards in two batches, three loads, then compared.")
def command(directory: Path, full: bool) -> None:
    """Make the demo study in DIRECTORY and run it.

    Boards, names and numbers of the demo are invented. The study goes to DIRECTORY, its results to DIRECTORY/out; the
    large one has a folder for each batch.

    \b
    Example:
      irspot demo demo
    """
    from irspot.cli.console import say

    say(f"making invented boards and frames in {directory}")
    failed = _full(directory) if full else _small(directory)
    if failed:
        raise SystemExit(1)


def _small(directory: Path) -> bool:
    from irspot.cli.console import show_progress, show_rows
    from irspot.workflow.demo import write_demo
    from irspot.workflow.run import run_study

    study = write_demo(directory)
    result = run_study(study, directory / "out", progress=show_progress)
    show_rows(result.rows, with_run=True)
    return _told(result)


def _full(directory: Path) -> bool:
    """Run both batches, the earlier one first, then compare them."""
    from irspot.cli.console import say, show_problems, show_progress
    from irspot.workflow.charts import DEFAULT_LOOK
    from irspot.workflow.compare_study import compare_studies, write_comparison
    from irspot.workflow.demo import write_full_demo
    from irspot.workflow.run import run_study

    study = write_full_demo(directory, show_progress)
    batches = [*sorted(each for each in directory.glob("*/study.toml") if each != study), study]
    failed = [_told(run_study(each, each.parent / "out", progress=show_progress)) for each in batches]
    compared = compare_studies([study], progress=show_progress, note=say)
    show_problems((*compared.warnings, *compared.problems))
    write_comparison(compared, directory / "compare", DEFAULT_LOOK)
    say(f"the comparison of both batches is in {directory / 'compare'}")
    return any(failed) or bool(compared.problems)


def _told(result: StudyResult) -> bool:
    from irspot.cli.console import say, show_problems

    show_problems(result.problems)
    say(f"study {result.study.file}, results in {result.folder}, the report is {result.folder / 'report.html'}")
    return bool(result.problems)
