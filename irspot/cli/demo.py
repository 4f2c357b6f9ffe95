"""``irspot demo``: the demo study made and run."""

from __future__ import annotations

from pathlib import Path

import click

from irspot.cli.options import FilePath


@click.command()
@click.argument("directory", type=FilePath)
def command(directory: Path) -> None:
    """Make the demo study in DIRECTORY and run it.

    Boards, names and numbers of the demo are invented. The study goes to DIRECTORY, its results to DIRECTORY/out.

    \b
    Example:
      irspot demo demo
    """
    from irspot.cli.console import say, show_problems, show_progress, show_rows
    from irspot.workflow.demo import write_demo
    from irspot.workflow.run import run_study

    say(f"making invented boards and frames in {directory}")
    study = write_demo(directory)
    result = run_study(study, directory / "out", progress=show_progress)
    show_problems(result.problems)
    show_rows(result.rows, with_run=True)
    say(f"study {study}, results in {directory / 'out'}, the report is {directory / 'out' / 'report.html'}")
    if result.problems:
        raise SystemExit(1)
