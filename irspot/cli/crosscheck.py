"""``irspot crosscheck``: thermocouples held against the image."""

from __future__ import annotations

from pathlib import Path

import click

from irspot.cli.options import FilePath, chart_options, json_option


@click.command()
@click.argument("study", type=FilePath)
@click.option("-o", "--output", type=FilePath, help="Folder for crosscheck.csv, timeline/ and results.json.")
@chart_options
@json_option
def command(study: Path, output: Path | None, as_json: bool, chart_size: tuple[int, int], theme: str) -> None:
    """Hold the thermocouples of a STUDY's runs against their frames.

    For every bead: its value with what wires take, the image beside it, difference and En number, the likely cause
    where they disagree, whether and when it came off, and where the hottest place lies. Beads sit on live boards: power
    off and discharge before you attach or move one, follow local codes, and use equipment rated for the voltage.

    \b
    Example:
      irspot crosscheck study.toml -o crosscheck
    """
    from irspot.cli.console import say, show_crosschecks, show_problems, show_progress
    from irspot.exports.json_results import dumps
    from irspot.workflow.charts import ChartLook
    from irspot.workflow.crosscheck_study import crosscheck_document, crosscheck_study, place_lines, write_crosscheck

    check = crosscheck_study(study, progress=show_progress)
    show_problems((*check.warnings, *check.problems))
    document = (
        crosscheck_document(check) if output is None else write_crosscheck(check, output, ChartLook(chart_size, theme))
    )
    if as_json:
        click.echo(dumps(document), nl=False)
    else:
        show_crosschecks(check.rows, place_lines(check.places))
    if output is not None:
        say(f"{len(check.rows)} rows in {output}")
    if check.problems:
        raise SystemExit(1)
