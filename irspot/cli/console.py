"""How results and messages reach the terminal: tables where people look, TSV in pipes, progress on stderr."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterable, Sequence
from typing import Any, TextIO

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
        _show_tables(rows, with_run=with_run)
    else:
        from irspot.exports.tables import results_tsv

        click.echo(results_tsv(rows), nl=False)


def show_soaks(rows: Sequence[Any]) -> None:
    """Print rows of soak.csv: a line a zone on a terminal, plain TSV without truncation in a pipe."""
    if not sys.stdout.isatty():
        from irspot.exports.tables import soak_tsv

        click.echo(soak_tsv(rows), nl=False)
        return
    from irspot.soak.judge import sentence

    for row in rows:
        flags = f" [{' '.join(row.reading.flags)}]" if row.reading.flags else ""
        line = f"{row.label.run}: {sentence(row.reading)}{flags}"
        click.echo("".join(character if character.isprintable() else "·" for character in line))


def show_crosschecks(rows: Sequence[Any], places: Sequence[str]) -> None:
    """Print rows of crosscheck.csv, and on a terminal where beads would sit best; plain TSV in a pipe."""
    if not sys.stdout.isatty():
        from irspot.exports.tables import crosscheck_tsv

        click.echo(crosscheck_tsv(rows), nl=False)
        return
    from irspot.workflow.crosscheck_bead import sentence

    for line in (*(f"{row.label.run}: {sentence(row.reading)}" for row in rows), *places):
        click.echo("".join(character if character.isprintable() else "·" for character in line))


def show_comparison(comparison: Any) -> None:
    """Print a comparison: a table for each load and role on a terminal, rows of compare.csv as TSV in a pipe."""
    if not sys.stdout.isatty():
        from irspot.exports.tables import compare_tsv

        click.echo(compare_tsv(comparison.rows), nl=False)
        return
    from rich.console import Console
    from rich.text import Text

    from irspot.exports.compare_terminal import lines_below, lines_of, ranking_table

    console = Console()
    for ranking in comparison.rankings:
        if ranking.rows:
            console.print(ranking_table(ranking, narrow=console.width < 100))
        for line in lines_of(ranking, comparison.negligible_k):
            console.print(Text(line))
        console.print()
    for line in lines_below(comparison):
        console.print(Text(line))


def show_columns(rows: Sequence[Sequence[str]]) -> None:
    """Print lines of cells: side by side in columns on a terminal, with tabs in a pipe."""
    if not sys.stdout.isatty():
        for row in rows:
            click.echo("\t".join(row))
        return
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    for row in rows:
        click.echo("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())


def _show_tables(rows: Sequence[Row], *, with_run: bool) -> None:
    """Print the whole table where the terminal has room for its longest words, else a narrow one and the flags."""
    from rich.console import Console
    from rich.text import Text

    from irspot.exports.terminal import flag_lines, narrow_table, results_table, verdict_lines

    console = Console()
    whole = results_table(rows, with_run=with_run)
    if console.measure(whole, options=console.options.update(max_width=1000)).minimum <= console.width:
        console.print(whole)
        below = verdict_lines(rows, with_run=with_run)
    else:
        console.print(narrow_table(rows, with_run=with_run))
        below = [*flag_lines(rows), *verdict_lines(rows, with_run=with_run)]
    for line in below:
        console.print(Text(line))


def show_problems(problems: Iterable[Problem]) -> None:
    """Print problems on stderr, one a line."""
    for problem in problems:
        kind = "warning" if problem.severity == "warning" else "error"
        say(f"irspot: {kind}: {problem}")


def show_progress(done: int, total: int, name: str) -> None:
    """Say on stderr how far long work is: one line that renews itself on a terminal, plain lines in a log."""
    if not sys.stderr.isatty():
        say(f"{done}/{total} {name}")
        return
    columns = 60
    say(f"\r{done}/{total} {name[:columns]:<{columns}}", nl=done == total)


def say(message: str, *, nl: bool = True) -> None:
    """Print a message on stderr. That nobody reads it any more is no reason to give up the work it tells of."""
    try:
        click.echo(message, nl=nl, err=True)
    except OSError:
        silence(sys.stderr)


def silence(stream: TextIO) -> None:
    """Lead a stream that can no longer be written to nowhere, so that nothing more is flushed to it."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
