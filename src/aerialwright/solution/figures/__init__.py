"""Pictures of results: pure functions from records to SVG text."""

from __future__ import annotations

from aerialwright.solution.figures.curves import sensitivity_bars, why_curve
from aerialwright.solution.figures.dimensioned import call_outs, dimension_drawing, letter
from aerialwright.solution.figures.elevation import elevation_comparison, elevation_pattern
from aerialwright.solution.figures.frequency import band_ruler, realised_gain_chart, swr_chart
from aerialwright.solution.figures.impedance import smith_chart
from aerialwright.solution.figures.outline import outline_drawing, outline_row
from aerialwright.solution.figures.sky import TrackView, pass_chart, sky_dome

__all__ = [
    "TrackView",
    "band_ruler",
    "call_outs",
    "dimension_drawing",
    "elevation_comparison",
    "elevation_pattern",
    "letter",
    "outline_drawing",
    "outline_row",
    "pass_chart",
    "realised_gain_chart",
    "sensitivity_bars",
    "sky_dome",
    "smith_chart",
    "swr_chart",
    "why_curve",
]
