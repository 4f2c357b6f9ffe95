"""``irspot check``: everything wrong with a study, before anything is heated."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from irspot.cli.options import FilePath, json_option

if TYPE_CHECKING:
    from irspot.workflow.check import CheckReport, RunFacts


@click.command()
@click.argument("study", type=FilePath)
@json_option
def command(study: Path, as_json: bool) -> None:
    """Validate a STUDY and all its files before anything is heated.

    Reads the study, its boards, its cameras and the first frame of every run, and prints every error and warning, one a
    line. The exit status is 1 if there is any error.

    \b
    Example:
      irspot check study.toml
    """
    from irspot.workflow.check import check_study

    report = check_study(study)
    click.echo(_as_json(report) if as_json else _as_text(report))
    if report.errors:
        raise SystemExit(1)


def _as_text(report: CheckReport) -> str:
    lines = [f"{problem.severity}: {problem}" for problem in report.problems]
    lines += [_run_line(facts) for facts in report.runs]
    counts = f"{_counted(report.errors, 'error')}, {_counted(report.warnings, 'warning')}"
    lines.append(f"{counts}; {report.ready} of {_counted(report.listed, 'run')} can be evaluated")
    return "\n".join(lines)


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _run_line(facts: RunFacts) -> str:
    """Say what a run holds, on one line."""
    parts = [_counted(facts.frames, "frame file")]
    if facts.size_px is not None:
        parts.append(f"{facts.size_px[0]} × {facts.size_px[1]} px, in {facts.unit}")
    parts.append(_counted(facts.zones, "zone"))
    if facts.across_px:
        zone, px = min(facts.across_px, key=lambda item: item[1])
        parts.append(f"the smallest, '{zone}', {px:.1f} px across")
    return f"run {facts.run}: {', '.join(parts)}"


def _as_json(report: CheckReport) -> str:
    import json
    from dataclasses import asdict

    problems = [{**asdict(problem), "text": str(problem)} for problem in report.problems]
    runs = [{**asdict(facts), "across_px": dict(facts.across_px)} for facts in report.runs]
    body: dict[str, object] = {"errors": report.errors, "warnings": report.warnings, "ready": report.ready}
    body |= {"listed": report.listed, "problems": problems, "runs": runs}
    return json.dumps(body, ensure_ascii=False, allow_nan=False, indent=2)
