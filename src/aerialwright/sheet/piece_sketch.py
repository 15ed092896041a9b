"""The straight piece with everything that is marked on it before it is bent, as running dimensions (ISO 129-1 [@iso-129])."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from aerialwright.base.printing import format_angle, marked_angle
from aerialwright.sheet.content import is_fine, millimetres
from aerialwright.sheet.dimensions import ABOVE, GAP, OVERSHOOT, TEXT, arrow
from aerialwright.sheet.drawing import Circle, Drawing, Entity, Line, Point, Polyline, Text
from aerialwright.sheet.records import CutLine
from aerialwright.solution.svg import text_width

#: Drawn with lettering of 3.5 mm and printed one step of the lettering series smaller, at 2.5 mm (ISO 3098: steps of root two).
REDUCTION = 2.0**0.5
_BAR = 5e-3


@dataclass(frozen=True)
class Mark:
    """A place on the piece: ``at`` [m] from its cut end at the datum, and what is there."""

    at: float
    words: str


def marks(line: CutLine) -> list[Mark]:
    """Places to mark on a straight piece, from the cut end at the datum to the other; empty for pieces not cut to length."""
    if line.cut is None or line.form is not None:
        return []
    before = sum(a.length for a in line.allowances if a.end == "datum")
    after = sum(a.length for a in line.allowances if a.end == "tip")
    # A rod that stands on a pin starts past its datum.
    past = f"{millimetres(-before)} past the datum" if before < -5e-5 else ""
    found = [Mark(0.0, past or ("datum" if before < 5e-5 else ""))]
    if before >= 5e-5:
        found.append(Mark(before, "datum"))
    for start, arc, bend in line.mark_bends:
        found += [Mark(start, f"{format_angle(marked_angle(bend.angle))} bend:"), Mark(start + arc, "to here")]
    if after > 0.0:
        found.append(Mark(line.cut - after, "finished tip"))
    found.append(Mark(line.cut, "CUT"))
    merged: list[Mark] = []
    for mark in sorted(found, key=lambda item: item.at):
        if merged and mark.at - merged[-1].at < 5e-5:
            words = ", ".join(part for part in (merged[-1].words, mark.words) if part)
            merged[-1] = Mark(merged[-1].at, words)
        else:
            merged.append(mark)
    return merged


def spread(places: list[float], width: float, gap: float) -> list[float]:
    """Places in 0..``width`` in the order of ``places``, each at least ``gap`` from its neighbours, otherwise in proportion."""
    steps = [b - a for a, b in pairwise(places)]
    gap = min(gap, width / max(len(steps), 1))
    free = width - gap * len(steps)
    whole = sum(steps) or 1.0
    out = [0.0]
    for step in steps:
        out.append(out[-1] + gap + free * step / whole)
    return out


def piece_sketch(line: CutLine, *, width: float) -> Drawing | None:
    """The piece straight, not to scale, ``width`` [m] of drawing; None where there is nothing to mark but its length."""
    places = marks(line)
    if len(places) < 3:
        return None
    labels = [mark.words for mark in places]
    values = [millimetres(mark.at, fine=is_fine(line)).removesuffix(" mm") for mark in places]
    margin = 0.55 * max(text_width(words, TEXT / 0.72) for words in (labels[0], labels[-1], values[0], values[-1]))
    widest = max(text_width(words, TEXT / 0.72) for words in (*labels, *values))
    xs = [margin + x for x in spread([mark.at for mark in places], width - 2.0 * margin, widest + 3e-3)]
    entities: list[Entity] = [Polyline(_rectangle(xs[0], xs[-1]), closed=True, layer="cut")]
    # Metal that is added to the finished length is tinted: it goes into a joint, or falls to the trimming.
    ends = {
        word: x for x, mark in zip(xs, places, strict=True) for word in ("datum", "finished tip") if word in mark.words
    }
    spans = ((xs[0], ends.get("datum", xs[0])), (ends.get("finished tip", xs[-1]), xs[-1]))
    entities += [
        Polyline(_rectangle(*span), closed=True, layer="notes", fill="tint") for span in spans if span[1] > span[0]
    ]
    base = -_BAR - 2.4 * TEXT
    entities += [Line((xs[0], base), (xs[-1], base), layer="notes"), Circle((xs[0], base), 0.9e-3, layer="notes")]
    for x, mark, value in zip(xs, places, values, strict=True):
        bend = "bend" in mark.words or mark.words == "to here"
        if x not in (xs[0], xs[-1]):
            entities.append(Line((x, 0.0), (x, -_BAR), layer="bend" if bend else "engrave"))
        entities.append(Line((x, -_BAR - GAP), (x, base - OVERSHOOT), layer="notes"))
        if x > xs[0]:
            entities.append(arrow((x, base), 0.0))
        entities.append(Text((x, base - OVERSHOOT - 1.2 * TEXT), value, bold=mark.at == line.cut, height=TEXT))
        if mark.words:
            on_datum = "datum" in mark.words and "past" not in mark.words
            if on_datum:
                entities.append(
                    Polyline(((x, 0.0), (x - 1.6e-3, 2.6e-3), (x + 1.6e-3, 2.6e-3)), True, "notes", fill="solid")
                )
            lift = 2.6e-3 if on_datum else 0.0
            entities.append(Text((x, ABOVE + lift), mark.words, height=TEXT, bold=mark.words == "CUT"))
    return Drawing(tuple(entities))


def _rectangle(left: float, right: float) -> tuple[Point, ...]:
    return ((left, 0.0), (right, 0.0), (right, -_BAR), (left, -_BAR))
