"""``irspot run``: a whole study."""

from __future__ import annotations

from pathlib import Path

import click

from irspot.cli.options import FilePath, SizeType, chart_options, draws_option, json_option


@click.command()
@click.argument("study", type=FilePath)
@click.option("-o", "--output", required=True, type=FilePath, help="Folder for the results.")
@click.option("--size", type=SizeType(), default="1920x1080", show_default=True, help="Size of pictures in px.")
@click.option("--cmap", default="inferno", show_default=True, help="Colour map, any of matplotlib's by name.")
@click.option("--no-pictures", is_flag=True, help="Tables only: no pictures/, no charts/, no report.html.")
@click.option("--no-report", is_flag=True, help="No report.html.")
@click.option(
    "--also",
    multiple=True,
    type=click.Choice(["parquet", "xlsx"]),
    help="Write the tables in this format too; may be repeated. Needs pip install 'irspot[tables]'.",
)
@draws_option
@chart_options
@json_option
def command(
    study: Path,
    output: Path,
    size: tuple[int, int],
    cmap: str,
    no_pictures: bool,
    no_report: bool,
    also: tuple[str, ...],
    draws: int | None,
    chart_size: tuple[int, int],
    theme: str,
    as_json: bool,
) -> None:
    """Evaluate a STUDY: every run measured, one scale for all pictures.

    Writes results.csv, results.json, pictures/, charts/ and report.html, one file that opens in a browser, into the
    folder. A run that cannot be measured is reported and the others finish; the exit status is then 1.

    \b
    Example:
      irspot run study.toml -o out
    """
    from irspot.cli.console import say, show_problems, show_progress, show_rows
    from irspot.workflow.charts import ChartLook
    from irspot.workflow.run import run_study

    result = run_study(
        study,
        output,
        size=size,
        cmap=cmap,
        pictures=not no_pictures,
        report=not no_report,
        draws=draws or 0,
        also=also,
        look=ChartLook(chart_size, theme),
        progress=show_progress,
    )
    show_problems(p for p in result.study.problems if p.severity == "warning")
    show_problems((*result.warnings, *result.problems))
    if as_json:
        click.echo((result.folder / "results.json").read_bytes(), nl=False)
    else:
        show_rows(result.rows, with_run=True)
    report = f"; the report is {result.folder / 'report.html'}" if "report.html" in result.outputs else ""
    say(f"{len(result.rows)} rows of {len(result.study.runs)} runs in {output}{report}")
    if result.problems:
        raise SystemExit(1)
