"""``irspot schema``: the JSON Schema of a file format."""

from __future__ import annotations

from typing import Literal

import click


@click.command()
@click.argument("kind", type=click.Choice(["board", "camera", "study", "results", "columns"]))
def command(kind: Literal["board", "camera", "study", "results", "columns"]) -> None:
    """Print the JSON Schema of a file format: for editors that complete and check keys, and programs that read results.

    'columns' is the data dictionary instead: a CSV of every table's columns with type, unit and meaning.

    \b
    Example:
      irspot schema board > board.schema.json
      irspot schema columns > columns.csv
    """
    import json

    if kind == "columns":
        from irspot.exports.schemas import dictionary_csv

        click.echo(dictionary_csv(), nl=False)
        return
    if kind == "results":
        from irspot.exports.schemas import results_schema

        click.echo(json.dumps(results_schema(), ensure_ascii=False, indent=2))
        return
    from irspot.files import schema

    click.echo(json.dumps(schema(kind), ensure_ascii=False, indent=2))
