"""Boards that warm up before a fixed camera while somebody moves them: frames of one scene, and where the board was.

The board and what is on it moves and warms; the table, the things on it, cables and hands stay. Parts warm at their
own pace, some from cooler than the board to warmer, so that patterns change and steps turn over.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.shapes import Polygon
from irspot.synthetic.placement_clutter import lay_behind, lay_over
from irspot.synthetic.placement_content import Content, random_content
from irspot.synthetic.placement_fills import random_view
from irspot.synthetic.placement_outlines import SHAPES, OutlineShape, random_outline
from irspot.synthetic.placement_render import Image, background_image, board_image, outline_coverage, sensed
from irspot.synthetic.placement_views import BoardView
from irspot.synthetic.view import Pose, rotation

FloatArray = NDArray[np.float64]

TURNING_OVER: Final = 0.2
"""Share of the parts that start cooler than the board and end warmer, or the other way round."""


@dataclass(frozen=True, slots=True)
class Nudge:
    """How a board was moved: turned and tilted about its middle, then shifted.

    Parameters
    ----------
    shift_mm : tuple of float
        In the board's own plane: along its x and y.
    turn_deg : float
        In the board's plane, anticlockwise as seen from the front.
    tilt_deg : float
        About an axis in the board's plane ...
    axis_deg : float
        ... of this direction.
    """

    shift_mm: tuple[float, float] = (0.0, 0.0)
    turn_deg: float = 0.0
    tilt_deg: float = 0.0
    axis_deg: float = 0.0

    def rotation(self) -> FloatArray:
        """Rotation in board axes (x, y, height), shape (3, 3)."""
        turn, tilt, axis = np.deg2rad([self.turn_deg, self.tilt_deg, self.axis_deg])
        about = np.array([np.cos(axis), np.sin(axis), 0.0])
        cross = np.array([[0.0, 0.0, about[1]], [0.0, 0.0, -about[0]], [-about[1], about[0], 0.0]])
        leaned = np.eye(3) + np.sin(tilt) * cross + (1.0 - np.cos(tilt)) * cross @ cross
        turned = np.array([[np.cos(turn), -np.sin(turn), 0.0], [np.sin(turn), np.cos(turn), 0.0], [0.0, 0.0, 1.0]])
        return np.asarray(leaned @ turned)


STILL: Final = Nudge()


def nudged(view: BoardView, nudge: Nudge, middle_mm: FloatArray) -> BoardView:
    """Give the view of the same camera after the board was moved.

    Parameters
    ----------
    view : BoardView
    nudge : Nudge
    middle_mm : ndarray, shape (2,)
        What it turns and tilts about.
    """
    if nudge == STILL:
        return view
    before = rotation(view.pose, view.side)
    moved = nudge.rotation()
    middle = np.array([*middle_mm, 0.0])
    shift = middle + np.array([*nudge.shift_mm, 0.0]) - moved @ middle
    aim = np.array([*view.pose.aim_mm, 0.0])
    seen = before @ (shift - aim) + np.array([0.0, 0.0, view.pose.distance_mm])
    return replace(view, pose=_pose_of(before @ moved, seen, np.diag(rotation(Pose(1.0, (0.0, 0.0)), view.side))))


def _pose_of(turned: FloatArray, seen: FloatArray, upright: FloatArray) -> Pose:
    """Find the pose whose rotation, and place of the board's origin in view axes, are given."""
    angles = turned * upright
    tilt = np.arctan2(-angles[1, 2], angles[2, 2])
    turn = np.arcsin(angles[0, 2])
    roll = np.arctan2(-angles[0, 1], angles[0, 0])
    eye, axis = -turned.T @ seen, turned.T[:, 2]
    distance = -eye[2] / axis[2]
    aim = eye + distance * axis
    return Pose(float(distance), (float(aim[0]), float(aim[1])), *(float(np.rad2deg(a)) for a in (tilt, turn, roll)))


@dataclass(frozen=True, slots=True)
class Bench:
    """A board before a camera, with all that is around it.

    Parameters
    ----------
    view : BoardView
        Before anything moves.
    outline : Polygon
    content : Content
        When the board is hot.
    paces : tuple of float
        For parts and blocks in their order: exponent of their warming; negative for those that turn over.
    noise_k : float
    seed : int
        Of clutter.
    """

    view: BoardView
    outline: Polygon
    content: Content
    paces: tuple[float, ...]
    noise_k: float
    seed: int

    @property
    def board(self) -> Board:
        """The board, without zones."""
        return Board("trial board", self.outline, marks=self.content.marks)

    def view_after(self, nudge: Nudge) -> BoardView:
        """The camera's view after the board was moved."""
        low, high = self.outline.array_mm.min(axis=0), self.outline.array_mm.max(axis=0)
        return nudged(self.view, nudge, (low + high) / 2.0)

    def frame(self, warmth: float, nudge: Nudge = STILL, seed: int = 0) -> Image:
        """Take a frame.

        Parameters
        ----------
        warmth : float
            0 for a board as warm as its surroundings, 1 for the hot one.
        nudge : Nudge
        seed : int
            Of the noise.

        Returns
        -------
        ndarray of float32, shape (rows, columns)
            °C.
        """
        view, content = self.view_after(nudge), warmed(self.content, self.paces, warmth)
        still = replace(content, blocks=())
        random = np.random.default_rng([self.seed, 4])
        image = background_image(self.view, content, self.view.to_px(self.outline.array_mm).mean(axis=0))
        lay_behind(random, self.view, still, self.outline, image)
        image += (board_image(view, content, self.outline) - image) * outline_coverage(view, self.outline)
        cover = np.zeros_like(image)
        alone = replace(content, cables=0, covers=0, hand=False)
        lay_over(np.random.default_rng(0), view, alone, self.outline, image, cover)
        lay_over(random, self.view, still, self.outline, image, cover)
        noise = np.random.default_rng([self.seed, 5, seed])
        return sensed(image, self.view.optics.blur_px or 0.0, self.noise_k, noise)


def warmed(content: Content, paces: tuple[float, ...], warmth: float) -> Content:
    """Give what a scene shows when its board is only partly warm.

    Parameters
    ----------
    content : Content
        When hot.
    paces : tuple of float
        See `Bench`.
    warmth : float
        0 to 1.
    """

    def share(pace: float) -> float:
        return float(warmth**pace) if pace > 0.0 else float(2.0 * warmth**-pace - warmth ** (-pace / 2.0))

    count = len(content.parts)
    parts = tuple(
        replace(part, excess_k=part.excess_k * share(pace))
        for part, pace in zip(content.parts, paces[:count], strict=True)
    )
    blocks = tuple(
        replace(block, excess_k=block.excess_k * share(pace))
        for block, pace in zip(content.blocks, paces[count:], strict=True)
    )
    across, down, wave = content.gradient_k
    board = content.background_degc + (content.board_degc - content.background_degc) * warmth
    gradient = (across * warmth, down * warmth, wave * warmth)
    return replace(content, board_degc=board, parts=parts, blocks=blocks, gradient_k=gradient)


def random_bench(
    seed: int,
    *,
    size_px: tuple[int, int] = (640, 512),
    shape: OutlineShape | None = None,
    noise_k: float | None = None,
) -> Bench:
    """Draw a bench: outline, camera, heat and clutter.

    Parameters
    ----------
    seed : int
    size_px : tuple of int
    shape : str, optional
    noise_k : float, optional
        50 to 150 mK where not given.

    Returns
    -------
    Bench
        The same for the same arguments.
    """
    random = np.random.default_rng([seed, 6])
    outline = random_outline(random, shape or SHAPES[int(random.integers(len(SHAPES)))])
    view = random_view(random, outline, size_px, "solvable")
    content = random_content(random, outline.array_mm, "warm", (), rear=view.side == "rear")
    paces = np.exp(random.uniform(np.log(0.5), np.log(2.0), len(content.parts) + len(content.blocks)))
    paces *= np.where(random.random(len(paces)) < TURNING_OVER, -1.0, 1.0)
    drawn = float(random.uniform(0.050, 0.150))
    return Bench(view, outline, content, tuple(paces.tolist()), noise_k or drawn, int(random.integers(2**31)))


def random_nudge(random: np.random.Generator, size_mm: float) -> Nudge:
    """Draw a nudge that shifts the board by so many mm, turns it by up to 3 degrees and tilts it by up to 1."""
    way = random.uniform(0.0, 2.0 * np.pi)
    turn, tilt = random.uniform(-3.0, 3.0), random.uniform(-1.0, 1.0)
    shift = (size_mm * float(np.cos(way)), size_mm * float(np.sin(way)))
    return Nudge(shift, float(turn), float(tilt), float(random.uniform(0.0, 180.0)))
