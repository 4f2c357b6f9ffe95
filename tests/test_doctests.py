"""Every example in a docstring of the package says what it says."""

from __future__ import annotations

import doctest
import importlib
import pkgutil
from pathlib import Path

import pytest

import irspot

ROOT = Path(__file__).resolve().parent.parent
MODULES = ["irspot", *(module.name for module in pkgutil.walk_packages(irspot.__path__, "irspot."))]


@pytest.mark.parametrize("name", MODULES)
def test_examples_of_a_module(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)  # examples read the samples by their place in a clone
    result = doctest.testmod(importlib.import_module(name))
    assert result.failed == 0


def test_there_are_examples() -> None:
    finder = doctest.DocTestFinder(exclude_empty=True)
    count = sum(len(found.examples) for name in MODULES for found in finder.find(importlib.import_module(name), name))
    assert count > 40
