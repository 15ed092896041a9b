"""The test card: what an instrument shows at the antenna and at the far end of the coax, how to trim, what a fault looks like."""

from __future__ import annotations

import numpy as np

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.printing import (
    format_decibel,
    format_frequency,
    format_impedance,
    format_length,
    format_ratio,
    marked_length,
)
from aerialwright.design.evaluate import connector_sections
from aerialwright.design.model import span_of
from aerialwright.design.records import Evaluation
from aerialwright.lines.line import Line, line_from_need
from aerialwright.lines.mismatch import impedance_of, reflection_of_swr, swr, swr_of
from aerialwright.lines.section import Section, behind
from aerialwright.need.model import Band, Need
from aerialwright.sheet.order import has_caps, needs_choke
from aerialwright.sheet.records import Expected, TestCard, TrimRow
from aerialwright.sheet.tolerance import Slopes, made_of
from aerialwright.solution.records import ComplexArray, FloatArray

#: SWR above the prediction that still passes. Common practice, no source.
SPARE = 0.3
#: Part of a computed cut that is made first. Common practice (50 to 70 %), no source.
FIRST_CUT = 0.6
#: Offsets of the dip in the trim table, as parts of the dip's frequency.
OFFSETS = (-0.03, -0.02, -0.01, -0.005, 0.005, 0.01, 0.02)
#: A dip within this part of its frequency is left alone once the antenna is trimmed. Common practice, no source.
DIP_ALLOWED = 0.005
#: The sweep for the test reaches this far past the bands. Common practice, no source.
SWEEP_LOW, SWEEP_HIGH = 0.7, 1.3
#: An antenna is wide where its SWR stays under its limit for this part of the centre frequency: it has no dip to trim by.
WIDE = 0.15


def test_card(
    evaluation: Evaluation, need: Need, bands: tuple[Band, ...], *, slopes: Slopes | None, identity: str
) -> TestCard:
    """The card for the line in use; ``identity`` is what a sweep is compared under."""
    line = line_from_need(need.feed_lines[0])
    sections = connector_sections(evaluation.design, line) if evaluation.design is not None else ()
    inside = np.zeros(len(evaluation.frequency), dtype=bool)
    for band in bands:
        inside |= (evaluation.frequency >= band.low - 1.0) & (evaluation.frequency <= band.high + 1.0)
    dip = dip_of(evaluation, inside)
    frequency = float(evaluation.frequency[dip])
    span = span_of(bands)
    rows, note = _trim(evaluation, frequency, slopes, need)
    return TestCard(
        reference_plane=_plane(evaluation, line, sections, frequency),
        hang=_hang(evaluation, span.wavelength(span.low)),
        dip_frequency=frequency,
        dip_swr=float(evaluation.swr[dip]),
        dip_allowed=max(DIP_ALLOWED * frequency, _quarter_of_narrowest(bands)),
        sweep_low=SWEEP_LOW * span.low,
        sweep_high=SWEEP_HIGH * span.high,
        line=need.feed_lines[0],
        expected=tuple(e for band in bands for e in _expected(evaluation, band, line, sections, need.limits.worst_swr)),
        trim=rows,
        trim_note=note,
        faults=_faults(evaluation, line, sections, frequency, need, trimmed=bool(rows)),
        command=f"aerialwright bench PROJECT SWEEP.s1p --plane antenna --antenna {identity}"
        if evaluation.design
        else "",
    )


def _quarter_of_narrowest(bands: tuple[Band, ...]) -> float:
    return 0.25 * min(band.high - band.low for band in bands)


def dip_of(evaluation: Evaluation, inside: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> int:
    """Index of the lowest SWR in or next to the bands: downhill from the best point inside them."""
    ratio = evaluation.swr
    at = int(np.argmin(np.where(inside, ratio, np.inf)))
    while 0 < at < len(ratio) - 1:
        step = -1 if ratio[at - 1] < ratio[at] else 1 if ratio[at + 1] < ratio[at] else 0
        if step == 0:
            break
        at += step
    return at


def far_impedance(load: ComplexArray, frequency: FloatArray, line: Line, sections: tuple[Section, ...]) -> ComplexArray:
    """Impedance (n,) [ohm] at the far end of connector and coax."""
    return line.through(behind(sections, load=load, frequency=frequency), frequency=frequency)


def _expected(
    evaluation: Evaluation, band: Band, line: Line, sections: tuple[Section, ...], limit: float
) -> tuple[Expected, ...]:
    places = (("low edge", band.low), ("middle", band.centre), ("high edge", band.high))
    at = [int(np.argmin(np.abs(evaluation.frequency - f))) for _, f in places]
    frequency, load = evaluation.frequency[at], evaluation.sweep.impedance[at]
    far = far_impedance(load, frequency, line, sections)
    out = []
    for n, (k, (word, _)) in enumerate(zip(at, places, strict=True)):
        high = float(evaluation.swr_high[k])
        accept = min(high + SPARE, max(limit, high))
        # Any load on the circle of the accepted SWR, seen through connector and coax.
        turn = reflection_of_swr(accept) * np.exp(2j * np.pi * np.arange(72) / 72.0)
        circle = np.asarray(impedance_of(turn, reference=line.impedance))
        there = far_impedance(circle, np.full(len(circle), frequency[n]), line, sections)
        out.append(
            Expected(
                label=f"{band.label}, {word}",
                frequency=float(frequency[n]),
                swr=float(evaluation.swr[k]),
                swr_error=high - float(evaluation.swr[k]),
                impedance=complex(load[n]),
                swr_limit=accept,
                far_swr=float(swr(far[n], reference=line.impedance)),
                far_impedance=complex(far[n]),
                far_swr_limit=float(np.max(swr(there, reference=line.impedance))),
            )
        )
    return tuple(out)


def _plane(evaluation: Evaluation, line: Line, sections: tuple[Section, ...], dip: float) -> str:
    where = "the mouth of the socket's aperture, level with its flange" if evaluation.design is not None and (
        evaluation.design.family.socketed
    ) else "the gap between the two halves, where the coax ends"  # fmt: skip
    loss = format_decibel(float(line.loss_db(dip)), digits=1)
    far = f" The far end is that of {_length(line.length)} of {line.title}, which loses {loss} at the dip."
    text = (
        f"Values at the antenna hold at {where}: calibrate open, short and load there, on the shortest lead that reaches, after "
        f"every adapter is on. SWR refers to {format_impedance(line.impedance)}: set the instrument's reference to it."
    )
    if line.length <= 0.0:
        return text
    text += far
    if sections:
        text += f" The far end includes the connector pair of {format_impedance(sections[0].impedance)}."
    return text


def _length(value: float) -> str:
    return f"{value:g} m" if value >= 1.0 else format_length(value, step=1e-3)


def _hang(evaluation: Evaluation, wave: float) -> tuple[str, ...]:
    clear = max(2.0, 0.5 * wave)
    fitted = ["caps on"] if has_caps(evaluation) else []
    fitted += ["choke fitted"] if needs_choke(evaluation) else []
    fitted += ["cover pipe on"] if any(piece.shape == "pipe" for piece in evaluation.pieces) else []
    ready = "".join(f", {one}" for one in fitted)
    place = (
        f"On its sheet, where it will stay{ready}; nothing tall within {clear:.1f} m (half a wave, at least 2 m).",
    ) if evaluation.structure.ground == "perfect" else (
        f"In the open, {clear:.1f} m or more from ground, walls and gutters (half a wave, at least 2 m); never on the floor or indoors.",
        f"On a dry wooden or plastic pole, the way up it will stand{ready}.",
    )  # fmt: skip
    return (
        *place,
        "Stand 2 m off while reading. If the reading moves when a hand slides along the coax, the choke does not work: see the faults.",
        "Calibrate again after every change of lead or adapter.",
    )


def _trim(evaluation: Evaluation, dip: float, slopes: Slopes | None, need: Need) -> tuple[tuple[TrimRow, ...], str]:
    """Rows of the trim table for the piece that the main length is cut from, and the note under it."""
    design = evaluation.design
    if design is None or slopes is None:
        return (
            (),
            "No sensitivities were computed for this antenna: new length = old length x measured / wanted frequency, a third at a time.",
        )
    key = design.family.main_length
    slope = slopes.by_key.get(key)
    made = made_of(design)
    cut = [
        (piece, made[piece.name].length[key])
        for piece in evaluation.pieces
        if piece.shape in ("rod", "tube", "wire") and piece.name in made and key in made[piece.name].length
    ]
    if slope is None or not cut:
        return (
            (),
            "Nothing to trim on this antenna: its size was cut in sheet. A reading outside the limits is a fault, not a length.",
        )
    piece, by = max(cut, key=lambda pair: abs(pair[1]))
    name, count = piece.name, piece.quantity
    under = evaluation.swr <= need.limits.worst_swr
    width = float(evaluation.frequency[under].max() / evaluation.frequency[under].min() - 1.0) if under.any() else 0.0
    per_metre = slope.frequency / by
    if per_metre >= 0.0 or (width > WIDE and not design.family.narrow):
        return (), (
            f"Wide antenna: nothing to trim. 1 mm more on every {name} moves the curve by {per_metre * 1e-9:+.2f} MHz. A reading outside "
            "the limits is a fault, not a length."
        )
    rows = tuple(
        TrimRow(offset * dip, name, -offset * dip / per_metre, FIRST_CUT * -offset * dip / per_metre)
        for offset in OFFSETS
    )
    which = f"every one of the {count} pieces alike" if count > 1 else "the piece"
    extra = sum(one.length for one in piece.allowances if one.reason == "trim")
    start = (
        f"As cut, {format_length(marked_length(extra))} too long, it starts near {format_frequency(dip + extra * per_metre, digits=1)}. "
        if extra
        else ""
    )
    return rows, (
        f"{start}1 mm off {which} ({name}) moves the dip by {-per_metre * 1e-9:+.2f} MHz, computed for this antenna. Dip too LOW: too "
        f"long, cut. Dip too HIGH: too short, sleeve on a longer tip. Make the first cut only ({FIRST_CUT:.0%}), read again, then the rest."
    )


def _faults(
    evaluation: Evaluation, line: Line, sections: tuple[Section, ...], dip: float, need: Need, *, trimmed: bool
) -> tuple[tuple[str, str], ...]:
    """What is seen and what it means; numbers through this coax."""
    at = np.array([dip])
    turn = float(np.abs(np.exp(-2.0 * line.propagation(at) * line.length))[0])
    floor = float(swr_of(turn))
    lowest = float(evaluation.swr[int(np.argmin(np.abs(evaluation.frequency - dip)))])
    far = far_impedance(evaluation.sweep.impedance, evaluation.frequency, line, sections)
    ratios = swr(far, reference=line.impedance)
    outer = 0 if ratios[0] > ratios[-1] else -1
    edge = float(ratios[outer])
    out = []
    if line.length > 0.0:
        spacing = SPEED_OF_LIGHT * line.velocity_factor / (2.0 * line.length)
        out += [
            (
                "No dip anywhere at the far end",
                f"An open or a short at the antenna, or a broken centre, shows SWR {format_ratio(floor, digits=1)} there at "
                f"{format_frequency(dip, digits=1)} (the coax's loss hides the rest) with ripples of R and X every "
                f"{format_frequency(spacing, digits=1)}. "
                "Find it with the ohm meter of the work steps.",
            ),
            (
                f"SWR at the far end stays under {format_ratio(0.5 * (1.0 + edge))} far outside the bands",
                f"Computed: {format_ratio(edge)} at {format_frequency(float(evaluation.frequency[outer]), digits=0)}. Flat and low "
                "means a lossy, wet or wrong coax, or a dummy load: measure its loss (far end open: half the return loss).",
            ),
            (
                "Good at the antenna, bad at the far end",
                f"Coax or a plug: with a 50 ohm load in the antenna's place the far end must read {format_ratio(_load_swr(line, at))}.",
            ),
        ]
    else:
        out.append(
            (
                "No dip anywhere",
                "Open, short or a broken centre: SWR is beyond what the meter shows. Use the ohm meter.",
            )
        )
    wrong = 2.0 * need.limits.worst_swr
    out += [
        *(
            [
                (
                    "Dip too low or too high",
                    "Length: by the trim table. Were pin, end caps and a cover pipe on when it was read?",
                )
            ]
            if trimmed
            else []
        ),
        (
            f"Dip in place but SWR there over {format_ratio(lowest + SPARE)}"
            if trimmed
            else "SWR over its limit in a part of the band",
            f"Not a length. {_wrong_reference(evaluation, line, dip)} Bad joint, metal close by, radials or halves not alike.",
        ),
        (
            "The reading moves when a hand slides along the coax",
            "Current on the outside of the coax: choke missing, wrong for the band, or too far from the feed.",
        ),
        (
            f"SWR at the antenna over {format_ratio(wrong)} at all frequencies, ohm meter right",
            "Wrong plane: calibrate again at the reference plane; look for an adapter put on after calibration.",
        ),
        (
            "All readings right but reception poor",
            "Polarisation, noise, an overloaded receiver or the site: not this antenna's lengths.",
        ),
    ]
    return tuple(out)


def _load_swr(line: Line, at: FloatArray) -> float:
    """SWR on the line's own impedance with a 50 ohm load at its end."""
    return float(swr(line.through(50.0, frequency=at), reference=line.impedance)[0])


def _wrong_reference(evaluation: Evaluation, line: Line, dip: float) -> str:
    """What the other common reference would show at the dip."""
    other = 50.0 if abs(line.impedance - 50.0) > 1.0 else 75.0
    z = evaluation.sweep.impedance[int(np.argmin(np.abs(evaluation.frequency - dip)))]
    return f"An instrument set to {other:.0f} ohm shows {format_ratio(float(swr(z, reference=other)))} for the same antenna."
