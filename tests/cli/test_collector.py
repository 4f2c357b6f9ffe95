"""The collector is paused for a short job and runs again after it, whatever the job came to."""

from __future__ import annotations

import gc

import pytest

from irspot.cli.collector import paused_collector


def test_it_is_paused_inside_only() -> None:
    assert gc.isenabled()
    with paused_collector():
        assert not gc.isenabled()
    assert gc.isenabled()


def test_it_runs_again_after_a_failure() -> None:
    with pytest.raises(ValueError, match="a job that fails"), paused_collector():
        raise ValueError("a job that fails")
    assert gc.isenabled()


def test_whoever_had_it_off_keeps_it_off() -> None:
    gc.disable()
    try:
        with paused_collector():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()
