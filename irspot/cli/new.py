"""``irspot new``: commented templates to begin a study with."""

from __future__ import annotations

from pathlib import Path

import click

from irspot.cli.options import FilePath


@click.command()
@click.argument("directory", type=FilePath)
def command(directory: Path) -> None:
    """Write commented templates of study, camera and board files into DIRECTORY.

    Prints the names of the files written. Nothing that exists is overwritten.

    \b
    Example:
      irspot new my-study
    """
    from irspot.cli.console import say
    from irspot.workflow.new_study import write_templates

    files = write_templates(directory)
    for path in files:
        click.echo(path)
    say(f"edit the files, put frames into {directory / 'frames'}, then: irspot check {files[0]}")
