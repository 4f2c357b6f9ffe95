"""``irspot check``: everything wrong with a study, before anything is heated."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from irspot.cli.options import FilePath, json_option

if TYPE_CHECKING:
    from irspot.workflow.check import CheckReport, RunFacts
    from irspot.workflow.set_up import SetUp


@click.command()
@click.argument("study", type=FilePath)
@click.option("--checklist", is_flag=True, help="Print a sheet for each board, for the bench.")
@json_option
def command(study: Path, checklist: bool, as_json: bool) -> None:
    """Validate a STUDY and all its files before anything is heated.

    Reads the study, its boards, its cameras and the first frame of every run, and prints every error and warning, one a
    line; then what the set-up can and cannot tell, also of runs that lack only their frames. The exit status is 1 if
    there is any error. With --checklist, prints a sheet for each board instead, to be filled in at the bench.

    \b
    Example:
      irspot check study.toml
      irspot check study.toml --checklist > bench.txt
    """
    from irspot.workflow.check import check_study

    if checklist and as_json:
        raise click.UsageError("--checklist is for paper; it has no --json")
    report = check_study(study)
    if checklist:
        _print_checklist(report)
    else:
        click.echo(_as_json(report) if as_json else _as_text(report))
    if report.errors:
        raise SystemExit(1)


def _as_text(report: CheckReport) -> str:
    lines = [f"{problem.severity}: {problem}" for problem in report.problems]
    lines += [_run_line(facts) for facts in report.runs]
    lines += _set_up_lines(report.set_ups)
    counts = f"{_counted(report.errors, 'error')}, {_counted(report.warnings, 'warning')}"
    lines.append(f"{counts}; {report.ready} of {_counted(report.listed, 'run')} can be evaluated")
    return "\n".join(lines)


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _run_line(facts: RunFacts) -> str:
    """Say what a run holds, on one line."""
    parts = [_counted(facts.frames, "frame file"), *_over_time(facts)]
    if facts.size_px is not None:
        parts.append(f"{facts.size_px[0]} × {facts.size_px[1]} px, in {facts.unit}")
    parts.append(_counted(facts.zones, "zone"))
    if facts.across_px:
        zone, px = min(facts.across_px, key=lambda item: item[1])
        parts.append(f"the smallest, '{zone}', {px:.1f} px across")
    return f"run {facts.run}: {', '.join(parts)}"


def _over_time(facts: RunFacts) -> list[str]:
    """Say how many frames a recording holds, how long it lasts, and how many of them are measured over time."""
    parts = []
    if facts.recorded > facts.frames or facts.lasts_s is not None:
        parts.append(
            f"{facts.recorded:,} frames" + ("" if facts.lasts_s is None else f" in {_duration(facts.lasts_s)}")
        )
    if facts.measured:
        which = "every frame" if facts.measured == facts.recorded else f"{facts.measured:,} of them"
        parts.append(f"{which} measured over time")
    return parts


def _duration(seconds: float) -> str:
    """Write a duration as people say it.

    Examples
    --------
    >>> _duration(3599.9), _duration(75.0), _duration(4.25)
    ('60 min 0 s', '1 min 15 s', '4.2 s')
    """
    if seconds < 60.0:
        return f"{seconds:.1f} s"
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s"


def _set_up_lines(set_ups: Sequence[SetUp]) -> list[str]:
    """Say what each side of each board can be told, once for all runs of which the same is true."""
    lines: list[str] = []
    seen: dict[tuple[str, str], SetUp] = {}
    for each in set_ups:
        first = seen.setdefault((each.board, each.side), each)
        if first is each:
            lines.append(f"{each.board}, {each.side} (run {each.run}):")
            lines += [f"  can tell: {sentence}" for sentence in each.can]
            lines += [f"  cannot tell: {sentence}" for sentence in each.cannot]
        elif each.cannot != first.cannot:
            lines += [f"  run {each.run} cannot tell: {said}" for said in each.cannot if said not in first.cannot]
    return lines


def _print_checklist(report: CheckReport) -> None:
    from irspot.cli.console import show_problems
    from irspot.workflow.checklist import checklist_of

    show_problems(problem for problem in report.problems if problem.severity == "error")
    click.echo(checklist_of(report), nl=False)


def _as_json(report: CheckReport) -> str:
    import json
    from dataclasses import asdict

    problems = [{**asdict(problem), "text": str(problem)} for problem in report.problems]
    runs = [{**asdict(facts), "across_px": dict(facts.across_px)} for facts in report.runs]
    body: dict[str, object] = {"errors": report.errors, "warnings": report.warnings, "ready": report.ready}
    set_ups = [
        {"run": each.run, "board": each.board, "side": each.side, "can": list(each.can), "cannot": list(each.cannot)}
        for each in report.set_ups
    ]
    body |= {"listed": report.listed, "problems": problems, "runs": runs, "set_ups": set_ups}
    return json.dumps(body, ensure_ascii=False, allow_nan=False, indent=2)
