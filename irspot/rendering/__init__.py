"""Pictures. They draw readings; they never measure."""

from irspot.rendering.caption import Caption
from irspot.rendering.heat import heat_picture
from irspot.rendering.picture import Picture
from irspot.rendering.scale import auto_scale
from irspot.rendering.underlay import Underlay

__all__ = ["Caption", "Picture", "Underlay", "auto_scale", "heat_picture"]
