"""Logs of thermocouples, air, power and sensors: whatever wrote them, read into columns on a clock."""

from irspot.logs.log import Log, LogColumn
from irspot.logs.read import read_log
from irspot.logs.thermocouples import bead_degc, tolerance_k

__all__ = ["Log", "LogColumn", "bead_degc", "read_log", "tolerance_k"]
