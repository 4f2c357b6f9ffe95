"""A frame held against patches of known temperature in view.

One patch corrects the offset of each frame and leaves the camera's limit only as far as it grows with the distance
from the patch's temperature; two that are far enough apart give offset and gain. What differs from frame to frame is
alike in all pixels of one, so the offset takes it along. What stays beside the patch's own uncertainty is noise, and
how unevenly the camera sees an even scene between the patch and elsewhere: a cold frame takes that off.

A patch that reads further off than camera and patch together may be is wrong itself, or the camera is; nobody can tell
which. Then nothing is corrected, and the camera's error is taken to be as large as the patch says it may be.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Reference, Zone
from irspot.camera import Accuracy
from irspot.camera_error import AT_ODDS, DOUBTFUL, USED, Held, PatchSeen
from irspot.conditions import Conditions
from irspot.frame import Frame
from irspot.measurement.applied import Applied, applied_to, sensitivities_of
from irspot.measurement.budget import limit_k
from irspot.measurement.geometry import Box, check_shape, geometry_of
from irspot.measurement.on_the_line import line_through
from irspot.measurement.pattern import pattern_terms
from irspot.measurement.pixels import Pixels, pixels_of
from irspot.opencv import load_cv2
from irspot.registration.placement import Placement
from irspot.uncertain import expanded, from_bound

BoolArray = NDArray[np.bool_]

LEAST_PIXELS: Final = 9
"""Of a patch, without its border (published practice: expose 10 × 10 pixels, use the middle 3 × 3)."""
_BORDER_PX: Final = 2
_BLURS: Final = 3.0
"""So many standard deviations of the blur from a patch's border nothing of its surroundings is left."""
_UNEVEN_K: Final = 1.0
_UNEVEN_TIMES: Final = 2.0
"""A patch whose pixels spread by more than the kelvin, and than twice its stated uncertainty, is no even patch."""
_LEAST_U_K: Final = 1e-3
"""Nothing is known for certain, whatever a file says; what weighs by 1 / u² needs some u."""
_CROSSING_DEGC: Final = 100.0
"""Where the two limits of makers who state both (2 K or 2 %) meet; one who states none that grows is taken at that."""

OUTSIDE: Final = "not wholly in the frame"
FEW: Final = f"fewer than {LEAST_PIXELS} pixels without its border"
CLIPPED: Final = "clipped"
UNEVEN: Final = "uneven: something may be in front of it, or it is not where it is said to be"
UNKNOWN: Final = "its surroundings send more than the patch can"
LESS_CERTAIN: Final = "less certain than the camera"


def held(frame: Frame, board: Board, placement: Placement, conditions: Conditions) -> Frame:
    """Hold a frame against the board's references, if there are any in view.

    Parameters
    ----------
    frame : Frame
        Kept by identity: its table and its picture are made one after the other.
    board : Board
    placement : Placement
    conditions : Conditions

    Returns
    -------
    Frame
        That frame where nothing is to be held against, or where it has been already; else with `Frame.held` and the
        flags that follow.

    Raises
    ------
    PlacementRefused
        If the frame is not of the placement's size.
    """
    check_shape(frame.shape, placement, frame.name)
    if frame.held is not None or not references_of(board, placement.side):
        return frame
    return _held(frame, board, placement, conditions)


@lru_cache(maxsize=1)
def _held(frame: Frame, board: Board, placement: Placement, conditions: Conditions) -> Frame:
    seen = tuple(_seen(frame, board, placement, conditions))
    found = judged(seen, frame.camera.accuracy)
    return replace(frame, held=found, flags=(*frame.flags, *_flags(found)))


def references_of(board: Board, side: str) -> tuple[Reference, ...]:
    """Give the references that can be in view: discs of the frame, and zones of the side."""
    zones = {zone.id for zone in board.zones if zone.side == side}
    known = [each for each in board.references if each.temperature_degc is not None]
    return tuple(each for each in known if (each.side in (None, side) if each.zone is None else each.zone in zones))


def judged(seen: Sequence[PatchSeen], accuracy: Accuracy) -> Held:
    """Say what patches tell of a camera's error.

    Parameters
    ----------
    seen : sequence of PatchSeen
        Those of state ``used`` can be.
    accuracy : Accuracy

    Returns
    -------
    Held
        With a line where they agree with each other and with the camera's limit.
    """
    gain_bound = accuracy.limit_relative or accuracy.limit_k / _CROSSING_DEGC
    patches = _doubted(seen, accuracy, gain_bound)
    wrong = [each for each in patches if each.state in (DOUBTFUL, AT_ODDS)]
    if wrong:
        return Held(patches, limit_k=max(abs(each.off_k) for each in wrong))
    sound = [each for each in patches if each.state == USED]
    if not sound:
        return Held(patches)
    shown_degc, off_k, u_k = np.array([(each.shown_degc, each.off_k, each.u_k) for each in sound]).T
    line = line_through(shown_degc, off_k, u_k, gain_bound)
    if line.u_offset_k >= _u_camera_k(accuracy, line.about_degc):
        return Held(tuple(_as(each, LESS_CERTAIN) if each.state == USED else each for each in patches))
    return Held(patches, line, gain_assumed=accuracy.limit_relative == 0.0 and line.gain_bound > 0.0)


def without_discs(mask: BoolArray, box: Box, board: Board, side: str) -> BoolArray:
    """Take the references given as discs of the frame out of a region of it: they belong to no board."""
    discs = [each.px for each in references_of(board, side) if each.px is not None]
    if not discs or not mask.size:
        return mask
    row0, row1, column0, column1 = box
    left = mask.copy()
    for x_px, y_px, radius_px in discs:
        y, x = np.ogrid[row0:row1, column0:column1]
        left &= np.hypot(x - x_px, y - y_px) > radius_px
    return left


def _doubted(seen: Sequence[PatchSeen], accuracy: Accuracy, gain_bound: float) -> tuple[PatchSeen, ...]:
    """Mark the patches that camera and patch together cannot explain, and those that contradict each other."""
    states = [each.state for each in seen]
    sound = [number for number, each in enumerate(seen) if each.state == USED]
    for one, other in combinations(sound, 2):
        first, second = seen[one], seen[other]
        u_gain_k = from_bound(gain_bound * abs(first.shown_degc - second.shown_degc))
        allowed_k = expanded(float(np.linalg.norm([first.u_k, second.u_k, u_gain_k])))
        if abs(first.off_k - second.off_k) > allowed_k:
            states[one] = states[other] = AT_ODDS
    for number in sound:
        allowed_k = expanded(float(np.hypot(_u_camera_k(accuracy, seen[number].shown_degc), seen[number].u_k)))
        if abs(seen[number].off_k) > allowed_k:
            states[number] = DOUBTFUL
    return tuple(_as(each, state) for each, state in zip(seen, states, strict=True))


def _as(patch: PatchSeen, state: str) -> PatchSeen:
    return replace(patch, state=state)


def _u_camera_k(accuracy: Accuracy, radiance_degc: float) -> float:
    return float(np.hypot(from_bound(limit_k(accuracy, radiance_degc)), accuracy.repeatability_k))


def _flags(found: Held) -> Iterator[str]:
    states = {patch.state for patch in found.patches}
    if found.line is not None:
        yield "reference-corrected"
    if found.gain_assumed:
        yield "gain-limit-assumed"
    if states & {DOUBTFUL, AT_ODDS}:
        yield "reference-doubtful"
    if states - {USED, DOUBTFUL, AT_ODDS}:
        yield "reference-not-used"


@dataclass(frozen=True, slots=True, eq=False)
class _Patch:
    """The pixels of a patch in a frame, and whether the frame shows all of it."""

    box: Box
    mask: BoolArray
    whole: bool

    @property
    def slices(self) -> tuple[slice, slice]:
        return slice(self.box[0], self.box[1]), slice(self.box[2], self.box[3])


def _seen(frame: Frame, board: Board, placement: Placement, conditions: Conditions) -> Iterator[PatchSeen]:
    pixels = pixels_of(frame)
    for reference in references_of(board, placement.side):
        patch = _patch_of(reference, board, placement, frame.shape)
        applied = applied_to(_surface(reference, board), conditions)
        yield _one(reference, patch, applied, frame, pixels)


def _surface(reference: Reference, board: Board) -> Zone:
    """Give the patch as a surface: the reference's emissivity, the surroundings of its zone if it has one."""
    zone = next((each for each in board.zones if each.id == reference.zone), Zone(reference.id, board.outline))
    return replace(
        zone,
        emissivity=reference.emissivity,
        u_emissivity=reference.u_emissivity,
        emissivity_assumed=False,
        emissivity_from="contact",
    )


def _patch_of(reference: Reference, board: Board, placement: Placement, shape: tuple[int, int]) -> _Patch:
    if reference.px is not None:
        return _disc(*reference.px, shape)
    ids = [zone.id for zone in board.zones_of(placement.side)]
    where = geometry_of(board, placement).zones[ids.index(str(reference.zone))]
    return _Patch(where.box, where.mask, where.in_frame == "wholly")


def _disc(x_px: float, y_px: float, radius_px: float, shape: tuple[int, int]) -> _Patch:
    rows, columns = shape
    low = np.clip(np.ceil([y_px - radius_px, x_px - radius_px]), 0, [rows, columns]).astype(int)
    high = np.clip(np.floor([y_px + radius_px, x_px + radius_px]) + 1.0, 0, [rows, columns]).astype(int)
    box = (int(low[0]), max(int(low[0]), int(high[0])), int(low[1]), max(int(low[1]), int(high[1])))
    y, x = np.ogrid[box[0] : box[1], box[2] : box[3]]
    whole = min(x_px, y_px) >= radius_px - 0.5 and x_px + radius_px <= columns - 0.5 and y_px + radius_px <= rows - 0.5
    return _Patch(box, np.asarray(np.hypot(x - x_px, y - y_px) <= radius_px), whole)


def _one(reference: Reference, patch: _Patch, applied: Applied, frame: Frame, pixels: Pixels) -> PatchSeen:
    """Average a patch's sound pixels, away from its border, and compare them with what it should show."""
    assert reference.temperature_degc is not None
    if not patch.whole:
        return PatchSeen(reference.id, OUTSIDE)
    mask = _away_from_border(patch.mask, frame.camera.optics.blur_px)
    mask &= pixels.sound[patch.slices]
    count = int(np.count_nonzero(mask))
    if count < LEAST_PIXELS:
        return PatchSeen(reference.id, FEW, count)
    if any(ends is not None and ends[patch.slices][mask].any() for ends in (pixels.clipped.high, pixels.clipped.low)):
        return PatchSeen(reference.id, CLIPPED, count)
    values = pixels.radiance_degc[patch.slices][mask].astype(np.float64)
    shown_degc, uneven_k = float(values.mean()), _uneven_k(values, pixels.noise_k)
    expected_degc = applied.seen(reference.temperature_degc, frame.camera.band)
    if not np.isfinite(expected_degc):
        return PatchSeen(reference.id, UNKNOWN, count)
    patch_u_k = _u_expected_k(reference, applied, expected_degc, frame)
    parts_k = (_LEAST_U_K, patch_u_k, uneven_k, *_u_seen_k(frame, patch, mask, shown_degc, pixels))
    u_k = float(np.linalg.norm(parts_k))
    state = UNEVEN if uneven_k > max(_UNEVEN_K, _UNEVEN_TIMES * reference.u_k) else USED
    return PatchSeen(reference.id, state, count, shown_degc, expected_degc, u_k)


def _away_from_border(mask: BoolArray, blur_px: float | None) -> BoolArray:
    cv2 = load_cv2()
    reach = max(_BORDER_PX, int(np.ceil(_BLURS * (blur_px or 0.0))))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    return np.asarray(cv2.erode(mask.astype(np.uint8), disc, borderValue=0).astype(bool))


def _uneven_k(values: NDArray[np.float64], noise_k: float) -> float:
    """Standard deviation of a patch's pixels beyond their noise."""
    return float(np.sqrt(max(0.0, float(values.var(ddof=1)) - noise_k**2)))


def _u_expected_k(reference: Reference, applied: Applied, expected_degc: float, frame: Frame) -> float:
    """Standard uncertainty of what a patch should show: of its temperature, its emissivity and its surroundings.

    The surroundings are those of the zones as well, whose errors they partly undo; taken as independent they count
    rather too much.
    """
    slopes = sensitivities_of([applied], [expected_degc], frame.camera.band)
    parts = (
        reference.u_k,
        applied.u_emissivity * slopes.to_emissivity[0],
        applied.u_reflected_k * slopes.to_reflected[0],
        applied.u_transmission * slopes.to_transmission[0],
        applied.u_window_k * slopes.to_window[0],
    )
    return float(np.linalg.norm(parts) / slopes.to_radiance_temperature[0])


def _u_seen_k(
    frame: Frame, patch: _Patch, mask: BoolArray, shown_degc: float, pixels: Pixels
) -> tuple[float, float, float]:
    """Standard uncertainties of what a patch shows: the noise of its mean, its decoding, what a cold frame left."""
    noise_k = pixels.noise_k / float(np.sqrt(np.count_nonzero(mask)))
    decoding_k = 0.0 if frame.u_decode_k is None else float(frame.u_decode_k[patch.slices][mask].mean())
    if frame.pattern is None:
        return noise_k, decoding_k, 0.0
    scene_k = float(frame.pattern.scene_k[patch.slices][mask].mean())
    even = replace(frame.pattern, noise_k=0.0, scene_k=np.full((1, 1), scene_k, np.float32))
    (term,) = pattern_terms(even, 0.0, 0.0, shown_degc, frame.camera.band)
    return noise_k, decoding_k, term.u_k
