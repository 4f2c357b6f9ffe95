"""One line for people, attributes for programs, and a journey through a worker process."""

from __future__ import annotations

import pickle

import pytest

from irspot import errors
from irspot.errors import FileInvalid, IrspotError, PlacementRefused, Problem, one_line


def test_a_line_names_file_place_found_wanted_and_hint() -> None:
    line = one_line("is unknown", "k7.toml", "zone[2].rolle", "'rolle'", "a known key", "did you mean 'role'?")
    assert line == "k7.toml: zone[2].rolle: is unknown (found 'rolle'; wanted a known key); did you mean 'role'?"


def test_control_characters_of_a_file_never_reach_the_terminal() -> None:
    assert "\x1b" not in str(IrspotError("bad \x1b[31m name\n", file="a\tb"))
    assert "\n" not in str(IrspotError("two\nlines"))


def _all_errors() -> list[type[IrspotError]]:
    found, queue = [], [IrspotError]
    while queue:
        kind = queue.pop()
        found.append(kind)
        queue.extend(kind.__subclasses__())
    return found


# Those of other modules, which may or may not be loaded by now, are made in other ways.
OWN = [kind for kind in _all_errors() if kind is not FileInvalid and kind.__module__ == errors.__name__]


@pytest.mark.parametrize("kind", OWN)
def test_errors_pickle_with_all_they_carry(kind: type[IrspotError]) -> None:
    error = kind("no", file="f.toml", key="a.b", found="1", wanted="2", hint="try 3")
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is kind
    assert str(again) == str(error)
    assert again.problems() == error.problems()


def test_placement_refusals_keep_their_cause() -> None:
    refusal = pickle.loads(pickle.dumps(PlacementRefused("mirrored", cause="mirrored", hint="rear?")))
    assert (refusal.cause, refusal.hint) == ("mirrored", "rear?")


def test_an_invalid_file_lists_every_error_and_keeps_its_warnings() -> None:
    problems = (
        Problem("first", "b.toml", "x"),
        Problem("only odd", "b.toml", "y", severity="warning"),
        Problem("second", "b.toml", "z"),
    )
    error = pickle.loads(pickle.dumps(FileInvalid(problems)))
    assert str(error).splitlines() == ["b.toml: x: first", "b.toml: z: second"]
    assert error.problems() == problems
    assert error.key == "x"


def test_every_error_has_a_code_of_its_own_and_stands_in_the_tree_that_is_drawn() -> None:
    kinds = _all_errors()
    assert len({kind.code for kind in kinds}) == len(kinds)
    for kind in kinds:
        assert kind.__name__ in (errors.__doc__ or "")
