"""``irspot schema``: the JSON Schema of a file format."""

from __future__ import annotations

from typing import Literal

import click


@click.command()
@click.argument("kind", type=click.Choice(["board", "camera", "study"]))
def command(kind: Literal["board", "camera", "study"]) -> None:
    """Print the JSON Schema of a file format, for editors that complete and check keys.

    \b
    Example:
      irspot schema board > board.schema.json
    """
    import json

    from irspot.files import schema

    click.echo(json.dumps(schema(kind), ensure_ascii=False, indent=2))
