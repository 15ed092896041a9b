"""What a plastic pipe over an antenna does: the same metal solved without and with it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.interpolate import CubicSpline

from aerialwright.antennas.cover import unfit
from aerialwright.antennas.plastic import leaning_factor
from aerialwright.base.errors import Caution
from aerialwright.base.printing import format_length
from aerialwright.design.model import Design, span_of
from aerialwright.design.quick import quick_impedance
from aerialwright.design.records import CoverEffect
from aerialwright.need.model import Band, Need
from aerialwright.solution.records import ComplexArray, FloatArray

#: Frequencies looked at, as parts of the middle of the bands: a pipe full of plastic moves a rod by a quarter.
LOOK = np.linspace(0.68, 1.24, 19)


def bare_design(design: Design) -> Design:
    """The same metal without the pipe; its wires keep their insulation."""
    return replace(design, plan=replace(design.plan, cover=None))


def resonance(frequency: FloatArray, impedance: ComplexArray, *, near: float) -> float | None:
    """The zero of the reactance, rising, nearest to ``near`` [Hz]; None where there is none."""
    curve = CubicSpline(frequency, impedance.imag)
    roots = np.asarray(curve.roots(extrapolate=False))
    rising = roots[np.asarray(curve(roots, 1)) > 0] if len(roots) else roots
    return float(rising[np.argmin(np.abs(rising - near))]) if len(rising) else None


def cover_effect(design: Design, bands: tuple[Band, ...]) -> CoverEffect | None:
    """Resonance with and without the pipe, on the quick mesh; None without a pipe or without a resonance near the bands."""
    if design.plan.cover is None:
        return None
    centre = span_of(bands).centre
    at = LOOK * centre
    with_pipe = resonance(at, quick_impedance(design, at), near=centre)
    without = resonance(at, quick_impedance(bare_design(design), at), near=centre)
    if with_pipe is None or without is None:
        return None
    return CoverEffect(design.plan.cover.label, without, with_pipe)


def plastic_assumption(design: Design) -> str:
    """The line about plastic in what an answer rests on."""
    plan = design.plan
    parts = []
    if plan.cover is not None:
        pipe = plan.cover
        parts.append(
            f"the {pipe.label} ({pipe.title}, {format_length(pipe.diameter)} outside, bore {format_length(pipe.bore)}, relative "
            f"permittivity {pipe.permittivity:g}) stands over the rod in the middle of it; sizes are for trimming with the pipe on"
        )
    for conductor in {c.stock: c for c in plan.metals.values() if c.insulation is not None}.values():
        assert conductor.insulation is not None
        parts.append(
            f"the insulation of the {conductor.stock} counts, {format_length(2 * conductor.insulation.outer_radius)} over it with "
            f"relative permittivity {conductor.insulation.permittivity:g}: leave it on"
        )
    if parts:
        return "; ".join(parts) + "; plastic is a thin layer against the wavelength"
    return "no plastic near the metal: a pipe or insulation over the rods lowers the frequency, so trim with it on"


def cover_cautions(design: Design, need: Need, effect: CoverEffect | None) -> list[Caution]:
    """How far the pipe moves the antenna, or why it does not stand in it."""
    if need.cover is None:
        return []
    pipe = design.plan.cover
    if pipe is None:
        why = unfit(design.family, design.plan, need) or f"solved as it is, without the {need.cover.stock}"
        return [Caution("note", why, "with the pipe over it, it would tune lower: trim with the pipe on")]
    if effect is None:
        return [
            Caution(
                "note", f"the {pipe.label} is counted, but there is no resonance near the bands to tell its shift by"
            )
        ]
    thinnest = min((rod.radius for rod in design.structure().rods if rod.coating is not None), default=0.5 * pipe.bore)
    leaning = leaning_factor(pipe, radius=thinnest)
    return [
        Caution(
            "note",
            f"the {pipe.label} lowers the resonance by {-effect.shift / 1e6:.2f} MHz ({-100 * effect.part:.1f} %), "
            f"from {effect.bare / 1e6:.2f} to {effect.covered / 1e6:.2f} MHz: its sizes are for the covered antenna",
            "trim with the pipe on; a pigmented pipe may do more, so try a piece of it over the rod",
            -100 * effect.part,
            unit="%",
        ),
        Caution(
            "caution" if -100 * (leaning - 1.0) * effect.part > 1.0 else "note",
            f"this holds for a rod in the middle of its pipe: one that lies against the wall all along goes down by "
            f"up to {-100 * leaning * effect.part:.1f} % instead (a static estimate)",
            "hold it in the middle by a few discs of foam, or trim it as it will lie",
            -100 * leaning * effect.part,
            unit="%",
        ),
    ]
