"""``irspot bundle``: everything a study's numbers follow from, in one file."""

from __future__ import annotations

from pathlib import Path

import click

from irspot.cli.options import FilePath


@click.command()
@click.argument("study", type=FilePath)
@click.option("-o", "--output", type=FilePath, required=True, help="The bundle to write, a ZIP file.")
@click.option(
    "--results",
    type=FilePath,
    help="Folder of the results that were shown: its log of redrawn zones is packed; its numbers must be today's.",
)
def command(study: Path, output: Path, results: Path | None) -> None:
    """Pack a STUDY with its frames, logs, board and camera files, results and versions, each with its digest.

    Whoever gets the bundle can measure anew and compare every number: irspot verify.

    \b
    Example:
      irspot bundle study.toml --results out -o spring.zip
    """
    from irspot.cli.console import say, show_problems, show_progress
    from irspot.workflow.bundle import bundle_study

    made = bundle_study(study, output, results=results, progress=show_progress)
    show_problems(made.result.warnings)
    say(f"{made.members} files of '{made.result.study.title}' in {output}")
    if results is not None:
        say(f"zones redrawn since results were first seen: {made.edits}")
