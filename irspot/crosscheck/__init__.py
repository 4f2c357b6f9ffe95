"""Thermocouples against the image: one clock, agreement, likely causes, beads that came off, where beads should sit."""

from irspot.crosscheck.advice import BestPlace, HotPlace, ZoneGrid, best_places, grids_of_role, hot_place, zone_grid
from irspot.crosscheck.at_bead import ImageAtBead, image_at, zone_at
from irspot.crosscheck.bead_budget import BeadValue, Logger, bead_value
from irspot.crosscheck.bead_flags import BEAD_FLAGS, BeadFlag, reason_and_remedy, sorted_bead_flags
from irspot.crosscheck.causes import Cause, Evidence, likely_cause, ranked_causes
from irspot.crosscheck.clock import ClockOffset, NoClock, clock_offset, given_offset, on_camera_clock
from irspot.crosscheck.en import Agreement, agreeing, compared, en_number, zeta_score
from irspot.crosscheck.equality import ChannelCheck, equality_check
from irspot.crosscheck.faults import Fault, Witnesses, bead_fault, masked, sampled_slowly, witnesses_of
from irspot.crosscheck.wire import WireLoss, wire_loss

__all__ = [
    "Agreement",
    "agreeing",
    "compared",
    "en_number",
    "zeta_score",
    "ClockOffset",
    "NoClock",
    "clock_offset",
    "given_offset",
    "on_camera_clock",
    "WireLoss",
    "wire_loss",
    "BeadValue",
    "Logger",
    "bead_value",
    "Fault",
    "Witnesses",
    "bead_fault",
    "masked",
    "sampled_slowly",
    "witnesses_of",
    "ImageAtBead",
    "image_at",
    "zone_at",
    "Cause",
    "Evidence",
    "likely_cause",
    "ranked_causes",
    "BestPlace",
    "HotPlace",
    "ZoneGrid",
    "best_places",
    "grids_of_role",
    "hot_place",
    "zone_grid",
    "ChannelCheck",
    "equality_check",
    "BEAD_FLAGS",
    "BeadFlag",
    "reason_and_remedy",
    "sorted_bead_flags",
]
