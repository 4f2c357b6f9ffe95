from __future__ import annotations

import jsonschema
import pytest

from irspot.errors import UsageError
from irspot.files import schema, templates
from irspot.files.editor_schema import FORMATS
from irspot.files.grammar import Table
from tests.files import samples

DOCUMENTS = {"board": samples.BOARD, "camera": samples.CAMERA, "study": samples.STUDY}
TEMPLATES = {"board": "boards/example.toml", "camera": "camera.toml", "study": "study.toml"}


def errors(kind: str, document: dict) -> list[str]:
    return [error.json_path for error in jsonschema.Draft202012Validator(schema(kind)).iter_errors(document)]


@pytest.mark.parametrize("kind", FORMATS)
def test_schemas_are_valid_and_accept_sound_documents(kind):
    import tomllib

    jsonschema.Draft202012Validator.check_schema(schema(kind))
    assert schema(kind)["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert errors(kind, DOCUMENTS[kind]) == []
    assert errors(kind, tomllib.loads(templates()[TEMPLATES[kind]])) == []


@pytest.mark.parametrize(
    ("kind", "document", "path"),
    [
        ("board", samples.with_zone(rolle="x"), "$.zone[0]"),
        ("board", samples.with_zone(emissivity=1.2), "$.zone[0].emissivity"),
        ("board", samples.with_zone(circle_mm=[1, 2, 3]), "$.zone[0]"),
        ("board", samples.with_zone(side="top"), "$.zone[0].side"),
        ("board", samples.board(schema=2), "$.schema"),
        ("camera", samples.camera("raw", dtype="uint12"), "$.raw.dtype"),
        ("camera", samples.camera("raw", width=None), "$.raw"),
        ("study", samples.study(0, top="north"), "$.run[0].top"),
        ("study", samples.study(utc_offset="2"), "$.utc_offset"),
    ],
)
def test_schemas_refuse_what_the_reader_refuses(kind, document, path):
    assert errors(kind, document) == [path]


@pytest.mark.parametrize(
    "placement", ["auto", {"corners_px": [[1, 2], [3, 4], [5, 6]]}, {"points_px": {"hole-a": [1, 2]}}]
)
def test_each_way_of_placing_is_accepted(placement):
    assert errors("study", samples.study(2, placement=placement)) == []


def test_an_unknown_kind_is_misuse():
    with pytest.raises(UsageError, match="did you mean 'board'"):
        schema("boards")


def tables(table: Table, path: str = ""):
    for name, key in table.keys.items():
        yield f"{path}{name}", key
        if key.table is not None:
            yield from tables(key.table, f"{path}{name}.")


@pytest.mark.parametrize("kind", FORMATS)
def test_every_key_says_what_it_means(kind):
    for path, key in tables(FORMATS[kind]):
        assert key.about.endswith("."), path
        assert key.wanted, path
