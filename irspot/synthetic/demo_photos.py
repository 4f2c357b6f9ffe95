"""The demo's photo: one of its boards in visible light, from beside the thermal camera."""

from __future__ import annotations

from dataclasses import dataclass

from irspot.camera import Optics
from irspot.synthetic.color_frames import encode
from irspot.synthetic.demo_pictures import INVENTED
from irspot.synthetic.demo_runs import DemoRun, demo_runs, demo_scene
from irspot.synthetic.photo_look import BENCHES, MASKS, Look
from irspot.synthetic.photo_scenes import PhotoScene, take_photo
from irspot.synthetic.view import Pose

_QUALITY = 85


@dataclass(frozen=True, slots=True)
class DemoPhoto:
    """A photo of the demo.

    Parameters
    ----------
    run : DemoRun
        Whose pictures show it beneath their colours.
    scene : PhotoScene
    """

    run: DemoRun
    scene: PhotoScene

    @property
    def file(self) -> str:
        """Where it lies, relative to the study."""
        return f"photos/{self.run.id}.jpg"

    @property
    def corners_px(self) -> tuple[tuple[float, float], ...]:
        """Where the outline's corners truly are in it, in the outline's order."""
        return tuple((float(x), float(y)) for x, y in self.scene.corners_px)


def demo_photos() -> tuple[DemoPhoto, ...]:
    """List the demo's photos."""
    run = next(run for run in demo_runs() if run.id == "t3-stock-front")
    thermal = demo_scene(run)
    scene = PhotoScene(
        board=thermal.board,
        side="front",
        pose=Pose(distance_mm=520.0, aim_mm=(128.0, 118.0), tilt_deg=2.0, turn_deg=-3.0, roll_deg=-2.0),
        optics=Optics(focal_px=1250.0),
        size_px=(1024, 768),
        look=Look(mask=MASKS["green"], bench=BENCHES["mat"]),
        surroundings=thermal.surroundings,
        seed=run.seed,
    )
    return (DemoPhoto(run, scene),)


def photo_bytes(photo: DemoPhoto) -> bytes:
    """Take a photo and pack it as JPEG."""
    return encode(take_photo(photo.scene), "jpeg", _QUALITY, about=INVENTED, taken=photo.run.taken)
