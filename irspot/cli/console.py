"""How results and messages reach the terminal: tables where people look, TSV in pipes, progress on stderr."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence

import click

from irspot.errors import Problem
from irspot.results import Row


def show_rows(rows: Sequence[Row], *, with_run: bool) -> None:
    """Print rows: a table on a terminal, plain TSV without truncation in a pipe.

    Parameters
    ----------
    rows : sequence of Row
    with_run : bool
        Whether the table names run and frame.
    """
    if sys.stdout.isatty():
        from rich.console import Console

        from irspot.exports.terminal import results_table

        Console().print(results_table(rows, with_run=with_run))
    else:
        from irspot.exports.tables import results_tsv

        click.echo(results_tsv(rows), nl=False)


def show_problems(problems: Iterable[Problem]) -> None:
    """Print problems on stderr, one a line."""
    for problem in problems:
        kind = "warning" if problem.severity == "warning" else "error"
        click.echo(f"irspot: {kind}: {problem}", err=True)


def show_progress(done: int, total: int, name: str) -> None:
    """Say on stderr how far long work is: one line that renews itself on a terminal, plain lines in a log."""
    if not sys.stderr.isatty():
        click.echo(f"{done}/{total} {name}", err=True)
        return
    columns = 60
    click.echo(f"\r{done}/{total} {name[:columns]:<{columns}}", nl=done == total, err=True)
