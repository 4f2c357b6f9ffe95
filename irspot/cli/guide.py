"""``irspot guide``: the pages that tell how to go about it."""

from __future__ import annotations

import sys
from typing import Final

import click

TOPICS: Final[dict[str, str]] = {
    "evening": "One evening: from the first frame to the published chart",
    "preparing": "Preparing a board: tape, paint, foil",
    "beads": "Beads: where thermocouples go, and what they miss",
    "framing": "Framing the shot",
    "placing": "Where the board is in a frame",
    "layout": "Zones from layout files",
    "readings": "What a reading says",
    "report": "The report: a study on one page",
    "camera": "Drift and an uneven camera",
    "logs-and-soaks": "Frames, logs and soaks: what goes in over time",
    "colour-pictures": "Pictures with a colour bar",
    "pictures": "Pictures for a page, a slide or a video",
    "comparing": "Comparing boards: ranking, ties, limits, charts",
    "flags": "Flags: what each means, and what to do",
    "troubleshooting": "Troubleshooting: from what you see to what to do",
    "files": "Files: every key, every column",
    "library": "The library",
    "measured": "How good the numbers are, and how fast they come",
    "cautions": "Cautions",
}
"""Name and title of every page, in the order to read them; a test holds each to its page's first line."""


@click.command()
@click.argument("topic", required=False, type=click.Choice(list(TOPICS)), metavar="[TOPIC]")
def command(topic: str | None) -> None:
    """Show a page of the guide, or what pages there are.

    \b
    Example:
      irspot guide
      irspot guide readings
    """
    if topic is None:
        width = max(map(len, TOPICS))
        for name, title in TOPICS.items():
            click.echo(f"{name:<{width}}  {title}")
        return
    text = page(topic)
    if not sys.stdout.isatty():
        click.echo(text, nl=False)
        return
    from rich.console import Console
    from rich.markdown import Markdown

    Console().print(Markdown(text, hyperlinks=False))


def page(topic: str) -> str:
    """Read a page.

    Parameters
    ----------
    topic : str
        Of `TOPICS`.

    Returns
    -------
    str
        Markdown.
    """
    from importlib.resources import files

    return (files("irspot") / "guide" / f"{topic}.md").read_text(encoding="utf-8")
