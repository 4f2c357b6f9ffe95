"""Which uncertainty weighs most in a reading, and what repeating the measurement would buy."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from irspot.camera import Band
from irspot.measurement.applied import Applied, sensitivities_of
from irspot.results import Reading
from irspot.uncertain import ActsOn, Term, combined, decimals_of, dominant, expanded, rounded

_TAPE_EMISSIVITY: Final = 0.95
_TAPE_U: Final = 0.01
"""Of tape that was compared with a surface of known emissivity; from memory, common practice."""
_FOIL_U_K: Final = 0.5
_PATCH_SHARE: Final = 0.2
"""What a patch of known temperature in view leaves of a camera's error (common practice)."""
_FRAMES: Final = 16
_WORTH: Final = 0.9
"""Advice is given where it brings the uncertainty below so much of what it is."""


@dataclass(frozen=True, slots=True)
class Advice:
    """What would make a reading more certain.

    Parameters
    ----------
    term : str
        The budget's largest.
    measure : str
        What to do, after "on ZONE" where it is done there; empty where nothing simple helps.
    U_now_k, U_then_k : float
        Expanded uncertainty of the maximum now, and after it.
    """

    term: str
    measure: str
    U_now_k: float
    U_then_k: float

    @property
    def sentence(self) -> str:
        """Say it: "a strip of tape on ps-left: U from 9.1 to 2.3 K"."""
        if not self.measure:
            return ""
        now, then = (rounded(value, decimals_of(self.U_then_k)) for value in (self.U_now_k, self.U_then_k))
        return f"{self.measure}: U from {now} to {then} K"


def advice_on(reading: Reading, applied: Applied, band: Band) -> Advice | None:
    """Say what would help a reading most.

    Parameters
    ----------
    reading : Reading
    applied : Applied
        With which its maximum was found.
    band : Band

    Returns
    -------
    Advice or None
        None for a reading without a budget.
    """
    name = dominant(reading.budget)
    if not name:
        return None
    better = _BETTER.get(name)
    # Who has a patch in view that cannot be believed is not helped by being told to put one there.
    if better is None or (name == "camera limit" and "reference-doubtful" in reading.flags):
        return Advice(name, "", reading.U_max_k, reading.U_max_k)
    measure, change = better
    terms = change(reading, applied, band)
    then_k = expanded(combined(terms))
    useful = then_k < _WORTH * reading.U_max_k
    return Advice(name, measure.format(zone=reading.zone) if useful else "", reading.U_max_k, then_k)


Change = Callable[[Reading, Applied, Band], list[Term]]


def _scaled(name: str, share: float) -> Change:
    """Change one term by a factor."""

    def change(reading: Reading, applied: Applied, band: Band) -> list[Term]:
        return [replace(term, u_input=share * term.u_input) if term.name == name else term for term in reading.budget]

    return change


def _foiled(reading: Reading, applied: Applied, band: Band) -> list[Term]:
    return [
        replace(term, u_input=min(term.u_input, _FOIL_U_K)) if term.acts_on == "reflected" else term
        for term in reading.budget
    ]


def _taped(reading: Reading, applied: Applied, band: Band) -> list[Term]:
    """What is left where the same surface has tape on it: its emissivity known, every sensitivity that of the tape."""
    tape = replace(applied, emissivity=_TAPE_EMISSIVITY)
    now, then = _slopes(reading.max_degc, (applied, tape), band)
    changed = []
    for term in reading.budget:
        share = then[term.acts_on] / now[term.acts_on] if now[term.acts_on] else 1.0
        u_input = min(_TAPE_U, term.u_input) if term.acts_on == "emissivity" else term.u_input
        changed.append(replace(term, u_input=u_input, sensitivity=term.sensitivity * share))
    return changed


def _slopes(maximum_degc: float, ways: Sequence[Applied], band: Band) -> list[dict[ActsOn, float]]:
    """Sensitivities of a surface temperature to each input of the model, for each way that it is read."""
    slopes = sensitivities_of(ways, [each.seen(maximum_degc, band) for each in ways], band)
    return [
        {
            "radiance": float(slopes.to_radiance_temperature[number]),
            "emissivity": float(slopes.to_emissivity[number]),
            "reflected": float(slopes.to_reflected[number]),
            "transmission": float(slopes.to_transmission[number]),
            "window": float(slopes.to_window[number]),
        }
        for number in range(len(ways))
    ]


_BETTER: Final[Mapping[str, tuple[str, Change]]] = {
    "emissivity": ("a strip of tape of known emissivity on {zone}", _taped),
    "even board": ("a strip of tape of known emissivity on {zone}", _taped),
    "camera limit in the map": ("a strip of tape of known emissivity on {zone}", _taped),
    "reflected temperature": ("the reflected temperature from a crumpled foil beside {zone}", _foiled),
    "camera limit": ("a patch of known temperature in view", _scaled("camera limit", _PATCH_SHARE)),
    "camera gain": ("a patch in view nearer the temperature of {zone}", _scaled("camera gain", 0.3)),
    "reference": ("a patch of better known temperature and emissivity", _scaled("reference", 0.5)),
    "cold frame": (f"the mean of {_FRAMES} cold frames of an even wall", _scaled("cold frame", _FRAMES**-0.5)),
    "repeatability": (f"the mean of {_FRAMES} frames", _scaled("repeatability", _FRAMES**-0.5)),
    "noise": (f"the mean of {_FRAMES} frames", _scaled("noise", _FRAMES**-0.5)),
    "noise bias": (f"the mean of {_FRAMES} frames", _scaled("noise bias", _FRAMES**-0.5)),
    "spot size": ("going closer, until the hot spot on {zone} is ten pixels across", _scaled("spot size", 0.1)),
    "placement": ("marks on the board, or its corners given by hand", _scaled("placement", 0.3)),
    "decoding": ("the camera's own radiometric frame instead of a picture", _scaled("decoding", 0.0)),
    "transmission": ("measuring without the window", _scaled("transmission", 0.0)),
    "window temperature": ("measuring without the window", _scaled("window temperature", 0.0)),
}
