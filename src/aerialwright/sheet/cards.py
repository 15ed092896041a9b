"""The cards after the order of work: joints, coax end, choke, weather seal and mounting, each with its sketch where one helps."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from aerialwright.design.common_mode import coil_of
from aerialwright.design.model import span_of
from aerialwright.sheet import content
from aerialwright.sheet.drawing import Drawing
from aerialwright.sheet.fitting_sketches import (
    choke_sketch,
    seal_sketch,
    sealed_end_sketch,
    strip_back_sketch,
)
from aerialwright.sheet.mounting_sketch import mounting_sketch
from aerialwright.sheet.order import clear, former, needs_choke
from aerialwright.sheet.piece_sketch import REDUCTION
from aerialwright.sheet.records import BuildSheet
from aerialwright.sheet.svg_file import svg_text

Card = dict[str, Any]


def cards(sheet: BuildSheet) -> list[Card]:
    """The cards in the order of the work."""
    evaluation, need = sheet.evaluation, sheet.need
    span = span_of(tuple(band for band in need.bands if band.label in sheet.band_labels) or need.must_bands)
    choked = needs_choke(evaluation)
    wound_on = former(need, span.centre) if choked else None
    socketed = evaluation.design is None or evaluation.design.family.socketed
    coil = None if wound_on is None else choke_sketch(
        turns=coil_of(span.centre).turns, former=f"former Ø{1e3 * wound_on:.0f}"
    )  # fmt: skip
    away = 2.0 * (need.site.height + evaluation.height)
    mounted = mounting_sketch(
        evaluation.structure, clearance=f"{clear(0.5 * span.wavelength(span.low))} or more", choked=choked,
        lines_away=f"No power line nearer than {away:.0f} m, wherever it may fall",
    )  # fmt: skip
    strip = _strip_lines(sheet.strip_back)
    return [
        *_card("Joints", sheet.joints),
        *_card("Coax end", strip, strip_back_sketch(sheet.strip_back) if strip else None),
        *_card("Choke", sheet.choke, coil),
        *_card("Weather seal", sheet.weather, seal_sketch() if socketed else sealed_end_sketch()),
        *_card("Mounting", sheet.mounting, mounted),
    ]


def _card(title: str, lines: Sequence[str], drawing: Drawing | None = None) -> list[Card]:
    if not lines:
        return []
    picture = None if drawing is None else reduced(drawing, title)
    return [{"title": title, "lines": content.items(lines), "picture": picture}]


def _strip_lines(steps: Sequence[tuple[str, float]]) -> list[str]:
    """Each length; a bracket that all of them share is said once."""
    brackets = {what.partition(" (")[2] for what, _ in steps}
    shared = brackets.pop().removesuffix(")") if len(brackets) == 1 else ""
    lines = [
        f"{what.partition(' (')[0] if shared else what}: {content.both(length)} from the end" for what, length in steps
    ]
    return [*lines, f"{shared[0].upper()}{shared[1:]}."] if shared else lines


def reduced(drawing: Drawing, title: str) -> dict[str, Any]:
    """A sketch lettered at 3.5 mm as a picture of the document, printed at 2.5 mm."""
    border = 0.5e-3
    width = 1e3 * (drawing.box.width + 2.0 * border) / REDUCTION
    return {"svg": svg_text(drawing, title=title, border=border), "width": width, "alt": title}
