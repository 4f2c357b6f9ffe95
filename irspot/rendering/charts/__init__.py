"""Charts of conclusions, each as SVG and PNG of one figure, drawn from the rows that tables show."""

from irspot.rendering.charts.bead import bead_chart
from irspot.rendering.charts.look import SIZES, THEMES, Chart, chart_size
from irspot.rendering.charts.price import price_chart
from irspot.rendering.charts.ranking import ranking_chart
from irspot.rendering.charts.soak import SoakShown, soak_chart

__all__ = [
    "SIZES",
    "THEMES",
    "Chart",
    "SoakShown",
    "bead_chart",
    "chart_size",
    "price_chart",
    "ranking_chart",
    "soak_chart",
]
