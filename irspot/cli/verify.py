"""``irspot verify``: a bundle measured anew, every number compared."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import click

from irspot.cli.options import FilePath, json_option


@click.command()
@click.argument("bundle", type=FilePath)
@click.option("--allow-plugins", is_flag=True, help="Let readers of other packages open its files.")
@click.option(
    "--most-gb", type=click.FloatRange(min=0.001), default=64.0, show_default=True, help="What it may unpack to."
)
@json_option
def command(bundle: Path, allow_plugins: bool, most_gb: float, as_json: bool) -> None:
    """Check the digests of a BUNDLE, measure its study anew and compare every number.

    Numbers that differ are listed, old and new. Exit status 0 if all hold, or differ by a newer method; 1 if a file was
    changed or a number differs under the same method.

    \b
    Example:
      irspot verify spring.zip
    """
    from irspot.cli.console import say, show_columns, show_progress
    from irspot.exports.json_results import dumps
    from irspot.workflow.verify import verify_bundle

    found = verify_bundle(bundle, plugins=allow_plugins, most_bytes=int(most_gb * 1e9), progress=show_progress)
    if as_json:
        click.echo(dumps(asdict(found) | {"holds": found.holds}), nl=False)
    elif found.differences:
        show_columns(
            [("table", "row", "column", "old", "new")] + [tuple(asdict(each).values()) for each in found.differences]
        )
    for name in found.damaged:
        say(f"irspot: {bundle}: {name}: was changed: its digest is not the manifest's")
    for edit in found.edits:
        say(f"irspot: zone '{edit.get('zone')}' of '{edit.get('board')}' was redrawn after results were first seen")
    if found.old_method != found.method and not found.damaged:
        say(f"METHOD {found.old_method} → {found.method}: numbers may differ")
    if not found.damaged:
        say(
            f"{found.members} files are as they were packed; {found.compared} cells compared, "
            f"{len(found.differences)} differ"
        )
    if not found.holds:
        raise SystemExit(1)
