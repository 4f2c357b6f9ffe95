"""Physical constants and the project's default numbers, each with its source, each in this place only.

The physical constants are the exact SI values of 2019 (CODATA 2018); the second radiation constant c2 = h c / k
is computed from them and never retyped. ITS-90's conventional c2 = 0.014388 m K is *not* used.

A change to any *default number* below raises `METHOD`, so that old results can be told from new ones.
"""

from __future__ import annotations

import math
from typing import Final

METHOD: Final = 4
"""Integer that rises whenever a default number, a rule or a formula changes what a result says."""

# --- SI, exact by definition (SI Brochure, 9th edition, 2019) ---------------------------------------------------
PLANCK_J_S: Final = 6.62607015e-34
LIGHT_M_PER_S: Final = 299792458.0
BOLTZMANN_J_PER_K: Final = 1.380649e-23
ZERO_DEGC_KELVIN: Final = 273.15

# --- derived, computed from the above ------------------------------------------------------------------------------
C1L_W_UM4_PER_M2_SR: Final = 2.0 * PLANCK_J_S * LIGHT_M_PER_S**2 * 1e24
"""2 h c² for spectral radiance per µm with the wavelength in µm: W µm⁴ m⁻² sr⁻¹."""
C2_UM_K: Final = PLANCK_J_S * LIGHT_M_PER_S / BOLTZMANN_J_PER_K * 1e6
"""Second radiation constant h c / k, in µm K."""
STEFAN_BOLTZMANN_W_PER_M2_K4: Final = (
    2.0 * math.pi**5 * BOLTZMANN_J_PER_K**4 / (15.0 * PLANCK_J_S**3 * LIGHT_M_PER_S**2)
)

# --- uncertainty ---------------------------------------------------------------------------------------------------
COVERAGE_FACTOR: Final = 2.0
"""k of every expanded uncertainty ``U_`` (about 95 %, JCGM 100:2008 6.3.3)."""
RECTANGULAR: Final = math.sqrt(3.0)
"""A bound ±a of a rectangular distribution has u = a / √3 (JCGM 100:2008 4.3.7)."""

# --- defaults of the measurement (common practice unless a source is named; each use is flagged) -------------------
DEFAULT_BAND_UM: Final = (8.0, 14.0)
DEFAULT_EMISSIVITY: Final = 0.90
DEFAULT_U_EMISSIVITY: Final = 0.03
BARE_METAL_EMISSIVITY: Final = 0.5
"""Surfaces below mirror more than they send; what is known of them by name alone is no measurement."""
DEFAULT_U_REFLECTED_K: Final = 3.0
DEFAULT_REFLECTED_DEGC: Final = 23.0
ASSUMED_U_REFLECTED_K: Final = 5.0
"""Used where neither a reflected nor an ambient temperature was given."""
DEFAULT_U_AMBIENT_K: Final = 0.5
DEFAULT_U_EVEN_K: Final = 0.5
"""Of the temperature of a board held evenly warm, unevenness included."""
EVEN_CONTRAST_K: Final = 20.0
"""An evenly warm board is at least so much warmer than its surroundings to show emissivities (published practice)."""
EVEN_VIEW_DEG: Final = 15.0
"""Angle by which the views of even and measured frame may differ: emissivities hardly change over so much (common
practice), and edges hide and show the same things."""
EVEN_SCALE: Final = 1.5
"""Factor by which the sizes of the board in the two frames may differ; a map from further off is blurred."""
MOST_U_EMISSIVITY: Final = 0.1
"""Standard uncertainty of an emissivity, as a share of it, up to which first-order uncertainties hold: twice that is an
interval in which 1/e bends by a fifth. Less certain metal bounds the temperature from below."""
DEFAULT_LIMIT_K: Final = 2.0
DEFAULT_LIMIT_RELATIVE: Final = 0.02
"""Camera limit assumed where the camera file has none: the larger of 2 K and 2 % (common practice)."""
DEFAULT_NOISE_K: Final = 0.1
DEFAULT_U_REFERENCE_K: Final = 0.5
DEFAULT_REFERENCE_EMISSIVITY: Final = 0.95
DEFAULT_U_REFERENCE_EMISSIVITY: Final = 0.01
"""Of a patch whose emissivity is stated without its uncertainty: somebody chose its surface to be a reference."""
ASSUMED_U_REFERENCE_EMISSIVITY: Final = 0.02
"""Where not even the emissivity is stated."""
DEFAULT_READOUT_S: Final = 60.0
DEFAULT_SAMPLE_S: Final = 10.0
"""How often recordings are measured over time where nothing is stated."""
FEW_PIXELS_ACROSS: Final = 4.0
"""A zone narrower than this is a lower bound (published practice: under 4 × 4 pixels reads far too low)."""
GOOD_PIXELS_ACROSS: Final = 10.0
"""A zone should be at least so wide; a narrower one is warned of (published practice: expose 10 × 10 pixels)."""
EDGE_U_PX: Final = 0.1
"""Standard uncertainty of each corner of an outline found in a frame, beyond what noise makes of it: heat does not end
at a board's edge as evenly as an ideal edge does (covers 95 % of the corners of the demo and of rendered scenes)."""
REFRESH_S: Final = 10.0
"""How often the zones of a recording that is read at full rate are held against the board."""
NUDGE_MM: Final = 0.4
NUDGE_SIGMAS: Final = 4.0
"""A board counts as moved by somebody where a corner of it moved by more than both, the second times the standard
uncertainty of that; none did of 810 rendered boards that only warmed up."""
ASSUMED_SHARE_OF_JUNCTION: Final = 0.2
"""Standard uncertainty of a part's psi_JT and of its power, as a share of each, where none is stated: psi_JT holds for
the board and air flow it was found on, and a part's power is mostly an estimate (our choice, without a source)."""
WARMING_TIMES: Final = 2.0
"""What a camera's limits are multiplied by while it has not been on for its warm-up time (common practice: makers
give their limits after it and nothing before)."""
STEEPEST_DEG: Final = 55.0
"""Angle from straight on beyond which the emissivity of paints and plastics falls (common practice)."""
PLAUSIBLE_HFOV_DEG: Final = (6.0, 90.0)
"""Horizontal fields of view that lenses of thermal cameras have (common practice); for cameras that state none."""

# --- limits against hostile or mistaken files ----------------------------------------------------------------------
MAX_PIXELS: Final = 60_000_000
"""Pixels of one frame; raise it with the environment variable ``IRSPOT_MAX_PIXELS``."""
MAX_TEXT: Final = 2_000
"""Characters of a free text (a name, a note)."""
