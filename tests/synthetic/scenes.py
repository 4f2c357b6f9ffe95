"""A small awkward scene for the tests of this folder."""

from irspot.board import Board, Zone
from irspot.camera import Accuracy, Band, Camera, Optics, Signal
from irspot.shapes import Circle, rectangle
from irspot.synthetic.conduction import Sheet
from irspot.synthetic.parts import Part, Surroundings, SyntheticBoard
from irspot.synthetic.scene import Scene, ViewCamera
from irspot.synthetic.view import Pose

QUIET = Accuracy(limit_k=2.0, limit_relative=0.02, repeatability_k=0.0, noise_k=0.0, assumed=False)


def small_camera(accuracy=QUIET, blur_px=0.0, supersample=2, faults=()):
    camera = Camera(
        name="test",
        signal=Signal(unit="K", scale=0.01),
        optics=Optics(size_px=(83, 61), focal_px=100.0, blur_px=blur_px),
        band=Band(8.0, 14.0),
        accuracy=accuracy,
    )
    return ViewCamera(camera, supersample, faults)


def small_board(parts=(), patches=()):
    board = Board(
        name="Test",
        outline=rectangle(0.0, 0.0, 60.0, 40.0),
        zones=(
            Zone("left", rectangle(5.0, 5.0, 20.0, 20.0), exclude=(Circle(10.0, 10.0, 3.0),)),
            Zone("right", Circle(45.0, 20.0, 10.0)),
            Zone("behind", rectangle(5.0, 5.0, 20.0, 20.0), side="rear"),
        ),
    )
    return SyntheticBoard(board, Sheet(60.0, 40.0), tuple(parts), tuple(patches), mask_emissivity=0.9)


def small_scene(board=None, *, side="front", view=None, pose=None, **others):
    return Scene(
        board=board or small_board(),
        load="on",
        side=side,
        ambient_degc=20.0,
        reflected_degc=others.pop("reflected_degc", 24.0),
        pose=pose or Pose(distance_mm=100.0, aim_mm=(30.0, 20.0)),
        view=view or small_camera(),
        surroundings=others.pop("surroundings", Surroundings(glow_k=0.0)),
        **others,
    )


def heater(name="heater", box=(40.0, 15.0, 10.0, 10.0), watts=2.0, **others):
    keys = {"height_mm": 0.0, "emissivity": 0.9, "k_per_w": 4.0, **others}
    return Part(name, rectangle(*box), power_w=(("on", watts),), **keys)
