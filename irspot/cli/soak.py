"""``irspot soak``: steady state of every run, or of a folder that frames arrive in."""

from __future__ import annotations

from typing import Any

import click

from irspot.cli.options import (
    FilePath,
    FiniteType,
    chart_options,
    color_options,
    how_from,
    json_option,
    placing_options,
    wish_from,
)


@click.command()
@click.argument("study", type=FilePath, required=False)
@click.option("-o", "--output", type=FilePath, help="Folder for soak.csv and results.json.")
@click.option("--watch", "folder", type=FilePath, help="Follow this folder while frames arrive, instead of a study.")
@click.option("--board", type=FilePath, help="With --watch: board file with the outline and the zones.")
@click.option("--camera", type=FilePath, help="With --watch: camera file.")
@click.option("--rule", default="", help="With --watch: when it is steady: '2 K/h', '1 K in 15 min', or iec-62368-1.")
@click.option("--ambient-degc", type=FiniteType(), help="With --watch: air temperature beside the board, °C.")
@click.option("--reflected-degc", type=FiniteType(), help="With --watch: reflected temperature, °C.")
@click.option(
    "--sample-s", type=FiniteType(), default=10.0, show_default=True, help="With --watch: seconds between frames used."
)
@click.option(
    "--every-s", type=FiniteType(), default=5.0, show_default=True, help="With --watch: seconds between two looks."
)
@click.option("--until-steady", is_flag=True, help="With --watch: end once every zone is steady.")
@placing_options
@color_options
@chart_options
@json_option
def command(**options: Any) -> None:
    """Judge how near every zone is to its end value: drift, end value, time to go, steadiness by a rule.

    With --watch it follows a folder and says after every frame how far the hottest zones are; Ctrl-C ends it.

    \b
    Example:
      irspot soak study.toml -o soak
      irspot soak --watch frames --board k7.toml --camera camera.toml --top up
    """
    from irspot.errors import UsageError

    if (options["study"] is None) == (options["folder"] is None):
        raise UsageError("wanted either a study or --watch with a folder")
    if options["folder"] is not None:
        _watch(options)
    else:
        _study(options)


def _study(options: dict[str, Any]) -> None:
    from irspot.cli.console import say, show_problems, show_progress, show_soaks
    from irspot.exports.json_results import dumps
    from irspot.workflow.charts import ChartLook
    from irspot.workflow.soak_study import soak_document, soak_study, write_soak

    output, look = options["output"], ChartLook(options["chart_size"], options["theme"])
    soak = soak_study(options["study"], progress=show_progress)
    show_problems((*soak.warnings, *soak.problems))
    document = soak_document(soak) if output is None else write_soak(soak, output, look)
    if options["as_json"]:
        click.echo(dumps(document), nl=False)
    else:
        show_soaks(soak.rows)
    if output is not None:
        say(f"{len(soak.rows)} rows in {output}")
    if soak.problems:
        raise SystemExit(1)


def _watch(options: dict[str, Any]) -> None:
    from irspot.cli.console import show_problems
    from irspot.workflow.watch_soak import Seen, Watcher, watch

    as_json = options["as_json"]

    def show(seen: Seen) -> None:
        show_problems(seen.problems)
        for line in _as_json(seen) if as_json else seen.lines:
            click.echo(line)

    watcher = Watcher(_job(options))
    watch(watcher, show, every_s=options["every_s"], until_steady=options["until_steady"])


def _as_json(seen: Any) -> tuple[str, ...]:
    """Give a line of JSON for every zone."""
    import json

    from irspot.columns import SOAK_COLUMNS
    from irspot.exports.json_results import table_json
    from irspot.results import RunLabel
    from irspot.workflow.soak_study import SoakRow

    rows = [SoakRow(RunLabel("", "", "", ""), reading) for reading in seen.readings]
    return tuple(json.dumps(row, ensure_ascii=False, allow_nan=False) for row in table_json(rows, SOAK_COLUMNS))


def _job(options: dict[str, Any]) -> Any:
    from irspot.conditions import Conditions
    from irspot.errors import UsageError
    from irspot.steady_rules import DEFAULT_RULE, rule_of
    from irspot.workflow.watch_soak import WatchJob

    if options["board"] is None:
        raise UsageError("--watch needs --board")
    for name in ("sample_s", "every_s"):
        if options[name] <= 0.0:
            raise UsageError(f"--{name.replace('_', '-')} must be above 0", found=f"{options[name]:g}")
    try:
        rule_of(options["rule"] or DEFAULT_RULE)
    except ValueError as error:
        raise UsageError("--rule is no rule", found=options["rule"], hint=str(error)) from error
    return WatchJob(
        folder=options["folder"],
        board_file=options["board"],
        camera_file=options["camera"],
        side=options["side"],
        top=options["top"],
        how=how_from(options),
        conditions=Conditions(ambient_degc=options["ambient_degc"], reflected_degc=options["reflected_degc"]),
        rule=options["rule"],
        wish=wish_from(options),
        sample_s=options["sample_s"],
    )
