"""``irspot compare``: boards ranked with ties, judged against limits, earlier studies joined."""

from __future__ import annotations

from pathlib import Path

import click

from irspot.cli.options import FilePath, chart_options, json_option


@click.command()
@click.argument("studies", metavar="STUDY...", type=FilePath, nargs=-1, required=True)
@click.option("-o", "--output", type=FilePath, help="Folder for compare.csv and results.json.")
@click.option(
    "--equal-power",
    is_flag=True,
    help="Carry rises to the load's power by rise ~ power^n, a projection; refused beyond 10 %.",
)
@chart_options
@json_option
def command(
    studies: tuple[Path, ...],
    output: Path | None,
    equal_power: bool,
    as_json: bool,
    chart_size: tuple[int, int],
    theme: str,
) -> None:
    """Rank the boards of a STUDY, role by role and load by load; further ones are earlier batches.

    Boards whose difference lies inside its uncertainty share a letter. Runs that differ in power, clock, ambient,
    coating, surface or method are listed with the reason and not ranked. Results beside a study (out/results.json) are
    read where nothing changed since; else it is measured. A pass means below the stated limit under the stated rule,
    for this sample, load and air flow; it is no safety certification.

    \b
    Example:
      irspot compare study.toml -o compare
      irspot compare spring/study.toml winter/study.toml --equal-power
    """
    from irspot.cli.console import say, show_comparison, show_problems, show_progress
    from irspot.exports.json_results import dumps
    from irspot.workflow.charts import ChartLook
    from irspot.workflow.compare_study import compare_document, compare_studies, write_comparison

    compared = compare_studies(studies, equal_power=equal_power, progress=show_progress, note=say)
    show_problems((*compared.warnings, *compared.problems))
    document = (
        compare_document(compared)
        if output is None
        else write_comparison(compared, output, ChartLook(chart_size, theme))
    )
    if as_json:
        click.echo(dumps(document), nl=False)
    else:
        show_comparison(compared.comparison)
    if output is not None:
        say(f"{len(compared.comparison.rows)} rows in {output}")
    if compared.problems:
        raise SystemExit(1)
