"""The largest term and what would make it smaller, against measuring again as advised."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.board import Board, Zone
from irspot.camera import Accuracy
from irspot.measurement import measure_zones
from irspot.measurement.advice import Advice, advice_on
from irspot.measurement.applied import Applied, applied_to
from irspot.results import NAN, Reading
from irspot.shapes import rectangle
from irspot.uncertain import Term

from .scenes import CAMERA, CONDITIONS, apparent_of, frame_of, straight_placement

APPLIED = Applied(0.9, 0.02, 22.0, 1.0, 1.0, 0.0, 22.0, 0.0, ())


def advice_for(*terms: Term) -> Advice | None:
    budget_k = 2.0 * float(np.sqrt(sum(term.u_k**2 for term in terms)))
    reading = Reading("f", "", "ps-left", "", "", "usable", max_degc=70.0, U_max_k=budget_k, budget=terms)
    return advice_on(reading, APPLIED, CAMERA.band)


def test_a_strip_of_tape_gives_what_is_promised() -> None:
    """A surface of emissivity 0.3 ± 0.03, and the same with tape on it, both measured."""
    zone = Zone("ps-left", rectangle(20, 20, 60, 50), emissivity=0.3, u_emissivity=0.03, emissivity_from="tape")
    taped = replace(zone, emissivity=0.95, u_emissivity=0.01)
    camera = replace(CAMERA, accuracy=Accuracy(1.0, 0.01, 0.05, 0.05, assumed=False))
    conditions = replace(CONDITIONS, u_reflected_k=1.0)
    found = []
    for each in (zone, taped):
        degc = apparent_of(np.full((131, 173), 60.0), each, conditions)
        board = Board("Tape", rectangle(0, 0, 110, 90), (each,))
        found.append(measure_zones(frame_of(degc, camera), board, straight_placement(), conditions)[0])
    advice = advice_on(found[0], applied_to(zone, conditions), camera.band)
    assert advice is not None
    assert advice.term == "emissivity"
    assert advice.U_now_k == found[0].U_max_k
    assert advice.U_then_k == pytest.approx(found[1].U_max_k, rel=0.05)
    assert advice.sentence.startswith("a strip of tape of known emissivity on ps-left: U from ")
    assert advice.sentence.endswith(" K")


def test_the_sentence_gives_both_numbers_alike() -> None:
    advice = advice_for(Term("emissivity", 0.05, 90.0, acts_on="emissivity"), Term("noise", 0.5, 1.0))
    assert advice is not None
    assert advice.sentence == "a strip of tape of known emissivity on ps-left: U from 9.1 to 2.0 K"


def test_advice_that_would_buy_nothing_is_not_given() -> None:
    even = [Term(name, 1.0, 1.0) for name in ("camera limit", "repeatability", "noise", "placement", "spot size")]
    advice = advice_for(Term("repeatability", 1.01, 1.0), *even)
    assert advice is not None
    assert advice.term == "repeatability"
    assert advice.U_then_k < advice.U_now_k
    alike = advice_for(Term("something else", 1.0, 1.0))
    assert alike is not None
    assert alike.sentence == ""


def test_nothing_is_said_of_nothing() -> None:
    assert advice_for() is None
    assert advice_for(Term("noise", NAN, 1.0)) is None
