"""The only place where an antenna meets the engine: one design over everything a need asks."""

from __future__ import annotations

import math

import numpy as np
from scipy.interpolate import PchipInterpolator

from aerialwright.antennas import cover
from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.constants import eta0
from aerialwright.base.errors import AerialwrightError, Caution
from aerialwright.base.printing import format_frequency, format_length
from aerialwright.design.cover_effect import cover_cautions, cover_effect, plastic_assumption
from aerialwright.design.model import Design, Directions, directions, grid, span_of
from aerialwright.design.quick import quick_impedance
from aerialwright.design.records import BandFigures, ConnectorEffect, Evaluation, Sensitivity
from aerialwright.design.shelf_fit import fit_stock
from aerialwright.engine.far_field import lost_in_metal, powers, radiation
from aerialwright.engine.sweep import EngineSettings, RawSweep
from aerialwright.engine.threads import single_thread
from aerialwright.lines.line import Line, line_from_need
from aerialwright.lines.mismatch import finite_swr, reflection
from aerialwright.lines.mismatch import swr as swr_of_impedance
from aerialwright.lines.section import Section, behind, delivered_through
from aerialwright.need.model import Band, Need
from aerialwright.solution.records import ComplexArray, FloatArray
from aerialwright.solution.solve import Solution, pattern_of, solve
from aerialwright.structure.model import Structure

#: An antenna whose worst SWR is this many times the limit is not looked at closer.
MISSES_BY_FAR = 1.5
#: Errors a careful hand makes: a length by 1 mm, a bend by 5 degrees.
CUT_ERROR, BEND_ERROR = 1e-3, 5.0


def swr_band(impedance: ComplexArray, error: FloatArray, reference: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """SWR (n,) with its lowest and highest value for impedances within ``error`` (n,) [ohm] of the computed one.

    A disc of radius e round Z maps to reflections within e |1 - G| / |Z + Z0| (first order, exact bound for small e).
    """
    coefficient = reflection(impedance, reference=reference)
    spread = error * np.abs(1.0 - coefficient) / np.abs(impedance + reference)
    size = np.abs(coefficient)

    return finite_swr(size), finite_swr(np.maximum(size - spread, 0.0)), finite_swr(size + spread)


def wanted_gain(
    raw: RawSweep, wanted: Directions, polarisation: str, at: FloatArray, *, balanced: bool = False
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean and least gain toward the wanted directions [dBi], and efficiency, at ``at`` (n,) [Hz].

    ``balanced`` takes the power sent out from what is accepted, which the power balance says it is, instead of from the far field.

    Solved frequencies, and some between from the fit, are joined by monotone cubics in dB over log f.
    """
    frequencies, mean, least, efficiency = [], [], [], []
    # Patterns turn faster than impedance: some frequencies between the solves, from the fit of the currents.
    low, high = raw.solved[0].frequency, raw.solved[-1].frequency
    between_solves = np.geomspace(low, high, 2 + int(6 * math.log2(high / low))) if high > low * 1.001 else np.array([])
    wanted_at = sorted({*(s.frequency for s in raw.solved), *between_solves.tolist()})
    for solved in (raw.at(f) for f in wanted_at):
        e_theta, e_phi = radiation(raw.system, solved, theta=wanted.theta, phi=wanted.phi)
        if raw.system.geometry.ground:
            below = wanted.theta > 0.5 * math.pi + 1e-9
            e_theta[below] = 0.0
            e_phi[below] = 0.0
        if balanced:
            lost = lost_in_metal(raw.system, solved)
            radiated = 0.5 * solved.admittance.real - lost
        else:
            _, radiated, lost = powers(raw.system, solved)
        unit = 4 * math.pi / (2 * eta0) / (radiated + lost)
        vertical, level = np.abs(e_theta) ** 2 * unit, np.abs(e_phi) ** 2 * unit
        if polarisation == "vertical":
            gain = vertical
        elif polarisation == "horizontal":
            gain = level
        elif polarisation == "circular":
            # Every family of this catalogue is linear or nearly so: half of the power fits a circular wave.
            gain = 0.5 * (vertical + level)
        else:
            gain = vertical + level
        frequencies.append(solved.frequency)
        by_elevation = gain.mean(axis=1)
        mean.append(10 * math.log10(max(float(by_elevation @ wanted.weight), 1e-6)))
        # A null is printed as -30 dBi: its true depth hangs on what stands around the antenna.
        least.append(10 * math.log10(max(float(gain.min()), 1e-3)))
        efficiency.append(radiated / (radiated + lost))
    x = np.log(np.array(frequencies))
    if len(x) < 2:
        return np.full(len(at), mean[0]), np.full(len(at), least[0]), np.full(len(at), efficiency[0])

    def between(values: list[float]) -> FloatArray:
        return np.asarray(PchipInterpolator(x, np.array(values), extrapolate=True)(np.log(at)))

    return between(mean), between(least), between(efficiency)


def evaluate(design: Design, need: Need, bands: tuple[Band, ...], *, sensitivities: bool = True) -> Evaluation:
    """Solve one design over ``bands`` and everything around, with its error band, patterns, pieces and stock.

    Raises
    ------
    StructureError, DesignError
        If the metal cannot exist.
    """
    family, plan = design.family, design.plan
    frequency = grid(need, bands)
    structure = design.structure()
    solution: Solution = solve(structure, frequency, settings=EngineSettings())
    sweep, raw = solution.sweep, solution.raw
    line = line_from_need(need.feed_lines[0])
    reference = line.impedance
    swr, swr_low, swr_high = swr_band(sweep.impedance, sweep.impedance_error, reference)
    sections = connector_sections(design, line)
    after_connector = behind(sections, load=sweep.impedance, frequency=frequency)
    at_receiver = line.through(after_connector, frequency=frequency)
    swr_receiver = np.asarray(swr_of_impedance(at_receiver, reference=need.receiver_impedance))
    wanted = directions(need, horizontal=plan.horizontal)
    with single_thread():
        mean, least, efficiency = wanted_gain(raw, wanted, need.polarisation, frequency)
        span = span_of(bands)
        patterns = tuple(
            pattern_of(raw, f, phi=np.radians(np.arange(0.0, 360.0, 45.0))) for f in (span.low, span.centre, span.high)
        )
    ratio = delivered_through(
        sections,
        antenna_impedance=sweep.impedance,
        line=line,
        receiver_impedance=need.receiver_impedance,
        frequency=frequency,
    )
    chain = 10 * np.log10(np.maximum(ratio, 1e-9))
    realised = mean + chain
    pieces = cover.pieces(family, plan, design.values)
    stock = fit_stock(pieces, need.stock)
    width, height = family.size(structure)
    if plan.horizontal:
        width, height = max(width, height), min(width, height)
    dimensions = family.dimensions(plan, design.values)
    guess_values, guess_source = family.first_guess(plan, span)
    pipe = cover_effect(design, bands)
    figures = tuple(
        _figures(band, frequency, swr, swr_receiver, mean, least, realised, chain, efficiency)
        for band in (need.bands if bands == need.must_bands else bands)
    )
    # What a slip does to an antenna that misses by far helps nobody.
    nominal = max(f.swr_worst for f in figures if any(f.band.label == band.label for band in bands))
    worth_it = sensitivities and nominal <= MISSES_BY_FAR * need.limits.worst_swr
    return Evaluation(
        key=plan.key,
        title=plan.title,
        family=family.key,
        family_title=family.title,
        dimensions=dimensions,
        pieces=stock.pieces,
        structure=structure,
        sweep=sweep,
        frequency=frequency,
        swr=swr,
        swr_low=swr_low,
        swr_high=swr_high,
        swr_receiver=swr_receiver,
        gain_wanted=mean,
        realised_gain=realised,
        efficiency=efficiency,
        half_power_band=_half_power(frequency, realised, bands),
        patterns=patterns,
        bands=figures,
        sensitivities=_sensitivities(design, bands, reference, nominal) if worth_it else (),
        width=width,
        height=height,
        parts=sum(piece.quantity for piece in pieces if piece.shape != "part"),
        joints=family.joints(plan, design.values),
        stock_suffices=not stock.missing,
        missing=stock.missing,
        first_guess=family.dimensions(plan, guess_values),
        first_guess_source=guess_source,
        assumptions=_assumptions(design, structure, line, reference, sections),
        cautions=(*sweep.cautions, *cover_cautions(design, need, pipe), *_cautions(design, need, bands)),
        owned=design.owned,
        design=design,
        connector=_connector(design, sections, after_connector, reference),
        cover=pipe,
    )


def connector_sections(design: Design, line: Line) -> tuple[Section, ...]:
    """What the connector pair puts between aperture and coax: nothing where its impedance is the coax's or there is none."""
    if not design.family.socketed:
        return ()
    worst = design.plan.socket.sections[:1]
    return tuple(Section(z0, length) for z0, length in worst if abs(z0 - line.impedance) > 0.5)


def _connector(
    design: Design, sections: tuple[Section, ...], impedance: ComplexArray, reference: float
) -> ConnectorEffect | None:
    if not sections:
        return None
    ratio = np.asarray(swr_of_impedance(impedance, reference=reference))
    return ConnectorEffect(design.plan.socket.key, sections[0].impedance, sections[0].length, ratio)


def _figures(
    band: Band,
    frequency: FloatArray,
    swr: FloatArray,
    swr_receiver: FloatArray,
    mean: FloatArray,
    least: FloatArray,
    realised: FloatArray,
    chain: FloatArray,
    efficiency: FloatArray,
) -> BandFigures:
    inside = (frequency >= band.low - 1.0) & (frequency <= band.high + 1.0)
    return BandFigures(
        band=band,
        swr_worst=float(swr[inside].max()),
        swr_typical=float(np.median(swr[inside])),
        swr_receiver_worst=float(swr_receiver[inside].max()),
        swr_receiver_typical=float(np.median(swr_receiver[inside])),
        gain_minimum=float(least[inside].min()),
        gain_mean=float(mean[inside].mean()),
        realised_minimum=float((least + chain)[inside].min()),
        realised_mean=float(realised[inside].mean()),
        efficiency_minimum=float(efficiency[inside].min()),
    )


def _half_power(frequency: FloatArray, realised: FloatArray, bands: tuple[Band, ...]) -> tuple[float, float]:
    inside = np.zeros(len(frequency), dtype=bool)
    for band in bands:
        inside |= (frequency >= band.low) & (frequency <= band.high)
    best = int(np.argmax(np.where(inside, realised, -np.inf)))
    limit = realised[best] - 3.0
    low = high = best
    while low > 0 and realised[low - 1] >= limit:
        low -= 1
    while high < len(frequency) - 1 and realised[high + 1] >= limit:
        high += 1
    return float(frequency[low]), float(frequency[high])


def worst_swr(impedance: ComplexArray, reference: float) -> float:
    """Highest SWR of an array of impedances."""
    return float(np.max(np.asarray(swr_of_impedance(impedance, reference=reference))))


def _sensitivities(
    design: Design, bands: tuple[Band, ...], reference: float, nominal: float
) -> tuple[Sensitivity, ...]:
    """What a cut error of 1 mm and a bend error of 5 degrees do, each alone; ``nominal`` is the worst SWR without them."""
    span = span_of(bands)
    at = np.unique(
        np.concatenate([np.geomspace(span.low, span.high, 7), [b for band in bands for b in (band.low, band.high)]])
    )
    base = quick_impedance(design, at)
    along = np.gradient(base, at)
    out = []
    family = design.family
    for parameter in family.parameters:
        if parameter.kind == "count" or not (parameter.tuned or parameter.key in ("gap",)):
            continue
        if parameter.key not in design.values:
            continue
        error = CUT_ERROR if parameter.kind == "length" else BEND_ERROR
        slip = error * parameter.slip
        changed: list[tuple[float, ComplexArray]] = []
        for sign in (1.0, -1.0):
            value = design.values[parameter.key] + sign * slip
            if not parameter.lowest <= value <= parameter.highest:
                continue
            try:
                changed.append((sign, quick_impedance(design.with_values(**{parameter.key: value}), at)))
            except AerialwrightError:
                # A change that makes the metal overlap has no electrical answer.
                continue
        if not changed:
            continue
        # The quick mesh gives the change; the reported mesh the value it starts from.
        worst = nominal + max(0.0, max(worst_swr(z, reference) for _, z in changed) - worst_swr(base, reference))
        change = max(float(np.max(np.abs(z - base))) for _, z in changed)
        sign, first = changed[0]
        out.append(
            Sensitivity(
                parameter.key,
                parameter.label,
                error,
                parameter.kind,
                sign * curve_shift(along, first - base),
                worst,
                change,
            )
        )
    return tuple(out)


def curve_shift(slope: ComplexArray, change: ComplexArray) -> float:
    """Shift [Hz] along frequency that best makes ``change`` (n,) [ohm] of a curve of ``slope`` (n,) [ohm/Hz]: least squares."""
    weight = float(np.sum(np.abs(slope) ** 2))
    # Z'(f) = Z(f - shift): dZ = -slope * shift
    return float(-np.real(np.sum(np.conj(slope) * change)) / weight) if weight > 0 else 0.0


def _assumptions(
    design: Design, structure: Structure, line: Line, reference: float, sections: tuple[Section, ...]
) -> tuple[str, ...]:
    out = [
        "free space: no mast, no ground, no buildings near the antenna"
        if structure.ground == "none"
        else "the sheet is flat, conducting and endless: near the horizon a real one gives up to 6 dB less",
        "no current on the outside of the coax: a choke at the feed does its work",
        f"SWR at the antenna refers to {reference:.0f} ohm"
        + (f", the coax ({line.title}, {line.length:.3g} m)" if line.length > 0 else ""),
        plastic_assumption(design),
    ]
    out += [
        f"between the aperture and the coax the {design.plan.socket.key} pair counts as a line of {s.impedance:g} ohm, "
        f"{format_length(s.length)} long (electrical): SWR at the antenna is before it, everything behind it includes it"
        for s in sections
    ]
    if any(role.mesh for role in design.plan.metals.values()):
        out.append("mesh is a sheet with the inductance of its wires; its wires are joined at every crossing")
    return tuple(out)


def _cautions(design: Design, need: Need, bands: tuple[Band, ...]) -> tuple[Caution, ...]:
    out: list[Caution] = []
    highest = max(band.high for band in bands)
    out += _fan_cautions(design, highest)
    socket = design.plan.socket
    if design.family.socketed:
        if highest > socket.highest_frequency:
            out.append(
                Caution("caution", f"the {socket.key} socket is not a matched connector at {highest / 1e6:.0f} MHz",
                        "use an N, BNC, SMA or F socket", highest / 1e6, socket.highest_frequency / 1e6, "MHz")
            )  # fmt: skip
        out.append(
            Caution(
                "note",
                f"the {socket.key}{'' if socket.bare else ' socket'} is taken at listed sizes ({socket.basis})",
                "measure yours before drilling",
            )
        )
    return tuple(out)


def _fan_cautions(design: Design, highest: float) -> list[Caution]:
    """Fans of rods stand for a sheet only while their tips are close: a tenth of a wave (handbook rule [@arrl-handbook])."""
    out = []
    wavelength = SPEED_OF_LIGHT / highest
    for rod in design.structure().rods:
        reach = max(math.hypot(x, y) for x, y, _ in rod.points)
        free = any(math.hypot(x, y) < 0.9 * reach for x, y, _ in rod.points)
        if rod.copies < 3 or not free or rod.name == "radial":
            continue
        gap = 2 * reach * math.sin(math.pi / rod.copies)
        if gap > 0.1 * wavelength:
            out.append(
                Caution(
                    "note",
                    f"the {rod.name}s stand {format_length(gap)} apart at their tips, {gap / wavelength:.2f} of a wavelength at "
                    f"{format_frequency(highest)}: they are solved as rods, not as the sheet of handbook rules",
                    "more of them come closer to sheet",
                    gap / wavelength,
                    0.1,
                    "wavelength",
                )
            )
    return out
