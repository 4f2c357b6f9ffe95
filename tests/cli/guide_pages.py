"""Pages of the guide that follow from code: ``python -m tests.cli.guide_pages`` writes them anew."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import irspot
from irspot.columns import CROSSCHECK_COLUMNS, RESULT_COLUMNS, SOAK_COLUMNS, Column
from irspot.crosscheck.bead_flags import BEAD_FLAGS
from irspot.files.board_keys import BOARD
from irspot.files.camera_keys import CAMERA
from irspot.files.grammar import Table
from irspot.files.study_keys import STUDY
from irspot.flags import FLAGS
from irspot.run_flags import RUN_FLAGS

FOLDER = Path(irspot.__file__).parent / "guide"
TABLES = {"results.csv": RESULT_COLUMNS, "soak.csv": SOAK_COLUMNS, "crosscheck.csv": CROSSCHECK_COLUMNS}
VERDICTS = ("retake", "lower bound", "usable")


def flags_page() -> str:
    told = [(flag.name, flag.verdict, flag.reason, flag.remedy) for flag in FLAGS.values()]
    lines = [
        "# Flags: what each means, and what to do",
        "",
        "A reading's verdict is that of its worst flag. `retake`: no number can be given. `lower bound`: it is at",
        "least so hot. `usable`: worth knowing, and the number stands with its uncertainty.",
        "",
        *_table("flag | verdict | what it means | what to do", sorted(told, key=lambda f: (VERDICTS.index(f[1]), f))),
        "",
        "## Of a run over time (soak.csv)",
        "",
        *_table("flag | what it means | what to do", _of(RUN_FLAGS.values())),
        "",
        "## Of a bead (crosscheck.csv)",
        "",
        *_table("flag | what it means | what to do", _of(BEAD_FLAGS.values())),
    ]
    return "\n".join(lines) + "\n"


def _of(flags: Iterable[Any]) -> list[tuple[str, ...]]:
    return sorted((flag.name, flag.reason, flag.remedy) for flag in flags)


def files_page() -> str:
    lines = [
        "# Files: every key, every column",
        "",
        "Files are TOML 1.0 in UTF-8; paths are relative to the file that names them. An unknown key is an error that",
        "names the nearest known one. `irspot new DIR` writes commented templates, `irspot schema board` (camera,",
        "study) a JSON Schema. In a study, keys of a run may also stand at study level, as defaults. Needed keys are",
        "marked with *.",
    ]
    for title, table in (("Board file", BOARD), ("Camera file", CAMERA), ("Study file", STUDY)):
        lines += ["", f"## {title}", "", *_table("key | accepts | what it means", list(_keys(table)))]
    for name, columns in TABLES.items():
        lines += ["", f"## {name}", "", *_table("column | unit | what it means", [_column(each) for each in columns])]
    return "\n".join(lines) + "\n"


def _keys(table: Table, before: str = "") -> Iterator[tuple[str, ...]]:
    for name, key in table.keys.items():
        if key.table is None:
            yield before + name + ("*" if key.required else ""), key.wanted, key.about
        else:
            inner = f"[[{before}{name}]]" if key.many else f"[{before}{name}]"
            yield inner, "tables" if key.many else "a table", key.about
            yield from _keys(key.table, f"{before}{name}.")


def _column(column: Column) -> tuple[str, ...]:
    return column.name, column.unit, column.meaning


def _table(head: str, rows: Iterable[tuple[str, ...]]) -> list[str]:
    lines = [f"| {head} |", "|" + "---|" * (head.count("|") + 1)]
    return lines + [
        f"| `{name}` | " + " | ".join(cell.replace("|", "\\|") for cell in rest) + " |" for name, *rest in rows
    ]


PAGES: dict[str, Callable[[], str]] = {"flags": flags_page, "files": files_page}

if __name__ == "__main__":
    for topic, write in PAGES.items():
        (FOLDER / f"{topic}.md").write_text(write(), encoding="utf-8")
