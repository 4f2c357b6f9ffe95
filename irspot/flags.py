"""Every flag a reading can carry, defined once: what it means, what it does to the verdict, what to do about it.

The verdict is derived from the flags by `verdict_of` and nowhere else.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from irspot.flag import VERDICTS, Flag, Verdict

__all__ = ["FLAGS", "VERDICTS", "Flag", "Verdict", "sorted_flags", "verdict_of"]

_ALL: Final[tuple[Flag, ...]] = (
    Flag(
        "accuracy-assumed",
        "usable",
        "The camera file states no accuracy; the larger of 2 K and 2 % was assumed.",
        "Copy the maker's limit into [accuracy] of the camera file.",
    ),
    Flag(
        "ambient-missing",
        "usable",
        "No ambient temperature was given, so there is no rise.",
        "Give ambient_degc in the study, or --ambient-degc.",
    ),
    Flag(
        "bare-metal",
        "lower bound",
        "The surface is metal by its emissivity, which nobody measured; read as a black body, it is at least so hot.",
        "Put a strip of tape of known emissivity on it, or measure its emissivity and state emissivity_from.",
        "bare metal",
    ),
    Flag(
        "camera-warming",
        "usable",
        "The camera had been on for less than its warm-up time; its limits were doubled.",
        "Leave the camera on for its warm-up time and repeat, or put a patch of known temperature in view.",
    ),
    Flag(
        "clipped",
        "lower bound",
        "Pixels of the zone stand at the upper end of what the camera could record.",
        "Repeat with the next higher temperature range.",
        "clipped",
    ),
    Flag(
        "clipped-low",
        "usable",
        "Pixels of the zone stand at the lower end of what the camera could record; mean and percentiles are too high.",
        "Repeat with a lower temperature range if the mean matters.",
    ),
    Flag(
        "cold-frame-refused",
        "usable",
        "The cold frame could not be used, so the camera's own pattern was left in the frame.",
        "See the problems of the run for the reason; take a frame of an even wall at room temperature.",
    ),
    Flag(
        "dead-pixel-found",
        "usable",
        "A single pixel far from what its neighbours and the optics allow was left out; it is not in the camera file.",
        "Look at the place; list it under [pixels] dead_px of the camera file if it is the sensor.",
    ),
    Flag(
        "dead-pixels-excluded",
        "usable",
        "Declared dead pixels lie in the zone and were left out.",
    ),
    Flag(
        "defocused",
        "lower bound",
        "The board's outline is more blurred than the camera file says the lens is, or than in the sharpest frame of "
        "the session; hot spots read too low.",
        "Focus on the board's surface and repeat; if it was in focus, correct blur_px in the camera file.",
        "out of focus",
    ),
    Flag(
        "elsewhere-hottest",
        "usable",
        "The hottest place of the board lies outside every zone.",
        "Draw a zone there, or an exclude shape if it is known not to matter.",
    ),
    Flag(
        "emissivity-assumed",
        "usable",
        "The zone states neither emissivity nor material; 0.90 with u 0.03 was assumed.",
        "State emissivity or material in the board file; a strip of tape of known emissivity settles it.",
    ),
    Flag(
        "emissivity-contradicted",
        "usable",
        "What the board file states of the zone's emissivity and what the emissivity map says differ by more than both "
        "uncertainties allow; the map was used.",
        "Check temperature_degc of the map, whether the board was evenly warm, and the board file.",
    ),
    Flag(
        "emissivity-left-out",
        "usable",
        "Pixels beside borders between surfaces of different emissivity were left out: they mix both.",
    ),
    Flag(
        "emissivity-mapped",
        "usable",
        "Every pixel was read with its own emissivity, from a frame of the evenly warm board.",
    ),
    Flag(
        "emissivity-not-mapped",
        "usable",
        "The emissivity map tells nothing of the zone; what the board file states was used.",
        "Frame the whole board in the even frame.",
    ),
    Flag(
        "emissivity-partly-unknown",
        "lower bound",
        "The emissivity map tells too little of part of the zone; the hottest place may be there.",
        "Hold the board warmer for the even frame, take it in the run's own session, or put tape on the part.",
        "emissivity",
    ),
    Flag(
        "emissivity-uncertain",
        "lower bound",
        "The surface's emissivity is known to no better than a tenth of itself; read with the highest it may be, the "
        "surface is at least so hot.",
        "Put a strip of tape of known emissivity on it; or hold the board warmer for the even frame, and know its and "
        "the reflected temperature better.",
        "emissivity",
    ),
    Flag(
        "few-pixels",
        "lower bound",
        "The zone is less than four pixels across; so small a place reads too low.",
        "Go closer, or use a lens with a narrower field, until the zone is ten pixels across.",
        "zone too small",
    ),
    Flag(
        "gain-limit-assumed",
        "usable",
        "The camera file states no limit that grows with temperature; limit_k over 100 K was assumed for the distance "
        "from the reference.",
        "State limit_relative in the camera file, or put a second patch of another temperature in view.",
    ),
    Flag(
        "height-not-corrected",
        "usable",
        "The zone's surface stands above the board, and without a focal length its place in the frame could not be "
        "corrected for that; place_off_mm says by how much it may be off.",
        "Give focal_px or hfov_deg in the camera file, or look at the board straight on.",
    ),
    Flag(
        "impossible-radiance",
        "retake",
        "The zone sends less radiance than its reflected and window terms alone would; the settings cannot be right.",
        "Check emissivity, reflected temperature, transmission and the settings the camera had applied.",
        "impossible",
    ),
    Flag(
        "junction-u-assumed",
        "usable",
        "How certain the part's psi_JT and power are is not stated; a fifth of each was assumed.",
        "State u_psi_jt_k_per_w and u_power_w in the board file.",
    ),
    Flag(
        "limit-not-comparable",
        "usable",
        "The zone's limit is of another quantity than the surface the camera sees, so it was not compared.",
        "State what the zone measures; a junction needs psi_jt_k_per_w and power_w.",
    ),
    Flag(
        "map-refused",
        "retake",
        "The run states an emissivity map, and its frame gives none that could be trusted.",
        "Take the even frame again as the message says, or leave emissivity_map out.",
        "no map",
    ),
    Flag(
        "metal-mixed",
        "retake",
        "The zone is metal, so small that blur mixes it with what lies beside it and sends more.",
        "Go closer, or put a strip of tape of known emissivity on it.",
        "metal, mixed",
    ),
    Flag(
        "metal-rim-left-out",
        "usable",
        "The zone is metal and what lies beside it sends more; its rim, which blur mixes with that, was left out.",
    ),
    Flag(
        "mirrors-hotter",
        "retake",
        "The surface is bare metal, and something hotter may be mirrored in it; what it shows may not be its own.",
        "Put a strip of tape of known emissivity on it, or shield it from what is hotter.",
        "may mirror",
    ),
    Flag(
        "no-3x3-block",
        "usable",
        "No full block of 3 × 3 sound pixels fits the zone, so peak3x3_degc is empty.",
        "Go closer.",
    ),
    Flag(
        "no-pixels",
        "retake",
        "Not one sound pixel centre lies in the zone.",
        "Go closer, or make the zone larger.",
        "no pixels",
    ),
    Flag(
        "noise-bias-corrected",
        "usable",
        "The hottest of many noisy pixels reads too high; the maximum was lowered by what noise adds.",
        "Average more frames.",
    ),
    Flag(
        "not-corrected",
        "usable",
        "At full rate the maximum is the hottest pixel as it is: what noise adds to it widens its uncertainty; what "
        "blur hides of a small hot spot is not considered.",
        "Use readings taken every sample_s, or the readout, where that matters.",
    ),
    Flag(
        "not-followed",
        "usable",
        "The frame that the corners or marks were given for shows too little of the board to tell whether it was moved "
        "since.",
        'Give them for a frame in which the board shows, or use placement = "auto".',
    ),
    Flag(
        "not-measured-pixels",
        "lower bound",
        "Pixels of the zone hold no number (not measured); the hottest place may be among them.",
        "Repeat without the overlay or fault that hides them.",
        "pixels missing",
    ),
    Flag(
        "not-placed",
        "retake",
        "The board could not be placed in the frame.",
        "Give corners_px or points_px by hand.",
        "not placed",
    ),
    Flag(
        "nudged",
        "usable",
        "The board or the camera was moved during the run; the zones follow the board.",
        "See results.json for how far; frames taken while it moved are left out of a readout.",
    ),
    Flag(
        "obscured",
        "lower bound",
        "The zone is declared obscured: the camera sees something in front of it.",
        "Uncover it, or measure by contact.",
        "obscured",
    ),
    Flag(
        "outside-frame",
        "retake",
        "The zone lies outside the frame.",
        "Frame the whole board.",
        "outside frame",
    ),
    Flag(
        "outside-range",
        "lower bound",
        "The zone is hotter than the camera's declared range.",
        "Repeat with the next higher temperature range.",
        "beyond range",
    ),
    Flag(
        "partly-outside-frame",
        "lower bound",
        "Part of the zone lies outside the frame; the hottest place may be there.",
        "Frame the whole board.",
        "cut off",
    ),
    Flag(
        "pattern-removed",
        "usable",
        "The camera's own pattern, as a cold frame shows it, was taken off the frame.",
    ),
    Flag(
        "peak-continues-outside",
        "usable",
        "The maximum lies on the zone's border and it is hotter still just outside.",
        "Draw the zone larger, or check the placement.",
    ),
    Flag(
        "pose-doubtful",
        "usable",
        "Where the zone's raised surface appears is doubtful: no camera of the stated focal length sees the board as "
        "it was placed, or the board could as well be tilted the other way.",
        "Check focal_px or hfov_deg in the camera file (irspot lens finds it) and the points the board was placed by.",
    ),
    Flag(
        "readout-short",
        "usable",
        "The recording, or the part of the readout in which the board stayed where it was, is shorter than asked for; "
        "all of that was used.",
    ),
    Flag(
        "reference-corrected",
        "usable",
        "The camera's error in this frame was taken from patches of known temperature in view.",
    ),
    Flag(
        "reference-doubtful",
        "usable",
        "A patch of known temperature reads further off than the camera's limit and the patch's own uncertainty allow, "
        "or contradicts another; nothing was corrected, and the camera's limit was widened to what the patch says.",
        "Check the patch: its temperature, emissivity and place, and that nothing is in front of it; if it is right, "
        "have the camera checked.",
    ),
    Flag(
        "reference-not-used",
        "usable",
        "A patch of known temperature was left out: too few pixels, clipped, not wholly in the frame, uneven, or less "
        "certain than the camera; results.json says which.",
        "Make the patch ten pixels across and even, keep it in view, and measure its temperature and emissivity.",
    ),
    Flag(
        "reflected-assumed",
        "usable",
        "No reflected temperature was given; the ambient temperature, or else 23 °C, was assumed with a wide u.",
        "Measure it with a crumpled foil patch and state reflected_degc.",
    ),
    Flag(
        "small-hot-spot",
        "lower bound",
        "The hot spot is less than four pixels, or four times the blur, across; so small a spot reads too low.",
        "Go closer, or use a lens with a narrower field, until the hot spot is ten pixels across.",
        "spot too small",
    ),
    Flag(
        "spot-size-corrected",
        "usable",
        "Blur hides part of so small a hot spot; the maximum was raised by that, and is less certain.",
        "Go closer, until the hot spot is ten pixels across.",
    ),
    Flag(
        "spot-size-not-corrected",
        "usable",
        "Blur may hide part of so small a hot spot; nothing states the lens's blur, so the maximum was left and "
        "its uncertainty widened.",
        "State blur_px under [optics] of the camera file, or go closer.",
    ),
    Flag(
        "steep-view",
        "usable",
        "The zone is seen at more than 55 degrees from straight on, where emissivities fall; it may be hotter than it "
        "reads.",
        "Look at the board squarer.",
    ),
    Flag(
        "time-unknown",
        "usable",
        "Neither the file nor its name says when the frame was taken.",
    ),
    Flag(
        "time-zone-unknown",
        "usable",
        "The frame was stamped by a clock whose time zone nobody stated, so its time is left empty.",
        "State utc_offset in the study.",
    ),
    Flag(
        "times-spread",
        "usable",
        "Frames share time stamps (TIFF's have whole seconds); such frames were spread evenly over their second.",
    ),
)

FLAGS: Final[dict[str, Flag]] = {flag.name: flag for flag in _ALL}
"""Name → flag, sorted by name."""


def verdict_of(names: Iterable[str]) -> Verdict:
    """Derive the verdict from the flags: the worst that any of them allows.

    Raises
    ------
    KeyError
        For a name that is not defined here.

    Examples
    --------
    >>> verdict_of(["emissivity-assumed"]), verdict_of(["clipped", "emissivity-assumed"])
    ('usable', 'lower bound')
    """
    return max((FLAGS[name].verdict for name in names), key=VERDICTS.index, default="usable")


def deciding(names: Iterable[str]) -> tuple[Flag, ...]:
    """Give the flags that a verdict other than usable rests on, in the order of their names.

    Raises
    ------
    KeyError
        For a name that is not defined here.

    Examples
    --------
    >>> [flag.short for flag in deciding(["emissivity-assumed", "clipped"])]
    ['clipped']
    """
    names = sorted_flags(names)
    verdict = verdict_of(names)
    return () if verdict == "usable" else tuple(FLAGS[name] for name in names if FLAGS[name].verdict == verdict)


def sorted_flags(names: Iterable[str]) -> tuple[str, ...]:
    """Sort flags by name, each once.

    Raises
    ------
    KeyError
        For a name that is not defined here.
    """
    return tuple(sorted({FLAGS[name].name for name in names}))
