from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

from irspot.files.materials import MATERIALS, Material

REFERENCE = Path(__file__).parents[1] / "reference" / "emissivity.csv"

ROWS = {
    # Ours → row of the reference table it is taken from (tests/reference/emissivity.csv names the sources).
    "solder mask": "solder mask on FR-4 (any visible colour)",
    "epoxy laminate": "FR-4 / epoxy-glass laminate, bare",
    "epoxy package": "moulded epoxy IC package, black",
    "ferrite": "ferrite (inductor core), bare",
    "silicone": "silicone (elastomer, pad or grease)",
    "vinyl tape": "PVC electrical tape, black vinyl",
    "matt black paint": "matt black paint, flat black lacquer",
    "black paint": "black paint (any)",
    "white paint": "white paint, various pigments",
    "anodised aluminium": "anodised aluminium",
    "oxidised aluminium": "aluminium, oxidised",
    "polished aluminium": "polished aluminium",
    "aluminium foil tape": "aluminium foil tape",
    "oxidised copper": "copper, oxidised",
    "tarnished copper": "copper, tarnished",
    "polished copper": "bare copper, polished",
    "tin plate": "tinned surface (tin plate, polished)",
    "bright nickel": "nickel, polished or electroplated bright",
    "gold": "gold surface",
    "alumina ceramic": "ceramic: white alumina",
    "porcelain": "ceramic: porcelain",
    "glass": "glass",
}


def reference() -> list[dict[str, str]]:
    lines = [line for line in REFERENCE.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def test_every_material_is_held_against_its_source():
    assert ROWS.keys() == MATERIALS.keys()


@pytest.mark.parametrize("material", MATERIALS.values(), ids=lambda material: material.name)
def test_ranges_are_those_of_the_sources(material: Material):
    rows = [row for row in reference() if row["material"] == ROWS[material.name]]
    assert (material.low, material.high) in [(float(r["emissivity_low"]), float(r["emissivity_high"])) for r in rows]
    certainties = {row["certainty"].split()[0] for row in rows}
    assert material.certainty in certainties
    named = material.source.split(",")[0].split(" (")[0]
    assert any(named in row["source"] for row in rows) or material.certainty == "low"


def test_the_value_stands_for_the_range():
    mask = MATERIALS["solder mask"]
    assert (mask.emissivity, mask.u_emissivity) == (0.9, 0.03)
    for material in MATERIALS.values():
        half = (material.high - material.low) / 2
        assert abs(material.emissivity - (material.low + half)) < 6e-4
        assert material.u_emissivity >= min(0.02, half)
        assert abs(material.u_emissivity - max(0.02, half / math.sqrt(3))) <= 0.0051
