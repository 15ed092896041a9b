"""Reading a measured sweep: any honest Touchstone or table, with every repair written down and the rest refused."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from aerialwright.base.printing import format_decibel, format_frequency, format_impedance
from aerialwright.bench.records import Measured, Repair
from aerialwright.bench.table import read_table
from aerialwright.bench.text import WITH_PHASE, SweepError, at_line, decode
from aerialwright.bench.touchstone import (
    HIGHEST_REFERENCE,
    LOWEST_REFERENCE,
    Points,
    looks_like_touchstone,
    read_touchstone,
)
from aerialwright.lines.mismatch import impedance_of, reflection
from aerialwright.solution.records import ComplexArray, FloatArray

#: Reflection that calibration and noise of a hand-held instrument can show on a passive thing (0.5 dB). Common practice, no source.
PASSIVE_LIMIT = 10.0 ** (0.5 / 20.0)
#: No radio wave is faster [Hz].
HIGHEST_FREQUENCY = 3e12
#: More points than this tell nothing more of an antenna; the rest are left out.
MOST_POINTS = 10_001


def read_sweep(
    data: bytes,
    *,
    name: str,
    port: int = 1,
    columns: Mapping[str, str | int] | None = None,
    reference: float | None = None,
) -> Measured:
    """The sweep in the bytes of a file called ``name``.

    ``port`` of a two-port file. ``columns`` of a table: role -> heading or number from 1, see
    :data:`aerialwright.bench.table.ROLES`; ``frequency_unit``, ``magnitude_unit`` and ``phase_unit`` where headings give none.
    ``reference`` [ohm]: what the sweep shall refer to. A file that states another is renormalised; a table of SWR or
    reflection, which states none, is taken to be measured against it (50 ohm without it).

    Raises
    ------
    SweepError
        With the line and the mend, for anything that is no sweep of a passive antenna.
    """
    if reference is not None and not LOWEST_REFERENCE <= reference <= HIGHEST_REFERENCE:
        raise SweepError(f"{reference:g} ohm is no reference", where=name, mend="give ohms above zero")
    if port not in (1, 2):
        raise SweepError(f"port {port} was asked", where=name, mend="ask for port 1 or 2")
    text, repairs = decode(data, name=name)
    if looks_like_touchstone(text) or _is_touchstone_name(name):
        points = read_touchstone(text, name=name, port=port)
    else:
        points = read_table(text, name=name, port=port, columns=columns, reference=reference)
    _refuse_nonsense(points, name)
    found = Measured(
        points.frequency,
        points.reflection,
        points.reference,
        points.phase_known,
        name,
        port,
        (*repairs, *points.repairs),
    )
    for step in (_passive, _ascending, _single, _thinned, _plausible):
        found = step(found)
    return found if reference is None else renormalised(found, reference=reference)


def _is_touchstone_name(name: str) -> bool:
    extension = name.lower().rpartition(".")[2]
    return extension == "ts" or (
        len(extension) >= 3 and extension[0] == "s" and extension[-1] == "p" and extension[1:-1].isdigit()
    )


def renormalised(measured: Measured, *, reference: float) -> Measured:
    """The same sweep against another reference [ohm]. Raises :class:`SweepError` where the phase is not known."""
    if reference == measured.reference:
        return measured
    if not measured.phase_known:
        raise SweepError(
            f"refers to {measured.reference:g} ohm and cannot be turned to {reference:g} ohm: its phase is not known",
            where=measured.origin, mend=WITH_PHASE,
        )  # fmt: skip
    impedance = impedance_of(measured.reflection, reference=measured.reference)
    note = Repair(f"turned from {format_impedance(measured.reference)} to {format_impedance(reference)}")
    return replace(
        measured,
        reflection=reflection(impedance, reference=reference),
        reference=reference,
        repairs=(*measured.repairs, note),
    )


def turned_radius(radius: FloatArray, coefficient: ComplexArray, *, old: float, new: float) -> FloatArray:
    """Radius (n,) of a small disc round a reflection (n,) against ``old`` [ohm] when it is turned to ``new`` [ohm].

    ``dr/dZ = 2 Z0 / (Z + Z0)^2`` for both references.
    """
    if old == new:
        return radius
    impedance = impedance_of(coefficient, reference=old)
    finite = np.isfinite(impedance)
    at = np.where(finite, impedance, 0.0)
    ratio = np.where(finite, np.abs(at + old) / np.abs(at + new), 1.0)
    return np.asarray(radius * (new / old) * ratio**2)


def _refuse_nonsense(points: Points, name: str) -> None:
    """Frequencies that are none, and numbers that overflow."""
    bad = np.flatnonzero(~((points.frequency > 0.0) & (points.frequency <= HIGHEST_FREQUENCY)))
    if len(bad):
        raise SweepError(
            f"a frequency of {points.frequency[bad[0]]:g} Hz", where=at_line(name, int(points.lines[bad[0]])),
            mend="correct or remove that line",
        )  # fmt: skip
    with np.errstate(over="ignore", invalid="ignore"):
        size = np.abs(points.reflection)
        bad = np.flatnonzero(~(size <= PASSIVE_LIMIT))
    if len(bad):
        worst = float(size[bad[0]])
        shown = f"a reflection of {worst:.3g}" if np.isfinite(worst) else "no reflection at all"
        raise SweepError(
            f"{shown} where nothing passive sends back more than {PASSIVE_LIMIT:.2f} "
            f"({len(bad)} of {len(size)} points, first at {format_frequency(float(points.frequency[bad[0]]))})",
            where=at_line(name, int(points.lines[bad[0]])),
            mend="calibrate and measure again, or check the format (RI, MA, DB), the column and the reference",
        )  # fmt: skip


def _noted(measured: Measured, what: str, **changes: object) -> Measured:
    return replace(measured, repairs=(*measured.repairs, Repair(what)), **changes)  # type: ignore[arg-type]


def _passive(measured: Measured) -> Measured:
    """Reflections a little over one brought back to one."""
    size = np.abs(measured.reflection)
    over = size > 1.0
    if not over.any():
        return measured
    if size.max() < 1.0 + 1e-6:
        return replace(measured, reflection=measured.reflection / np.maximum(size, 1.0))
    excess = format_decibel(20.0 * float(np.log10(size.max())))
    return _noted(
        measured,
        f"{int(over.sum())} points reflect more than arrives, by up to {excess}: set to total reflection; calibrate anew",
        reflection=measured.reflection / np.maximum(size, 1.0),
    )


def _ascending(measured: Measured) -> Measured:
    if np.all(np.diff(measured.frequency) >= 0.0):
        return measured
    order = np.argsort(measured.frequency, kind="stable")
    return _noted(
        measured, "frequencies were not in order: sorted",
        frequency=measured.frequency[order], reflection=measured.reflection[order],
    )  # fmt: skip


def _single(measured: Measured) -> Measured:
    """Points at one frequency made one, by their mean."""
    starts = np.flatnonzero(np.diff(measured.frequency, prepend=-1.0) > 0.0)
    extra = len(measured.frequency) - len(starts)
    if not extra:
        return measured
    count = np.diff(starts, append=len(measured.frequency))
    mean = np.add.reduceat(measured.reflection, starts) / count
    apart = float(np.abs(measured.reflection - np.repeat(mean, count)).max())
    return _noted(
        measured, f"{extra} points at a frequency that was there before: averaged, they lay up to {apart:.2g} from their mean",
        frequency=measured.frequency[starts], reflection=mean,
    )  # fmt: skip


def _thinned(measured: Measured) -> Measured:
    count = len(measured.frequency)
    if count <= MOST_POINTS:
        return measured
    kept: FloatArray = np.round(np.linspace(0, count - 1, MOST_POINTS)).astype(np.int64)
    return _noted(
        measured, f"{count} points: {MOST_POINTS} of them, evenly spread, are used",
        frequency=measured.frequency[kept], reflection=measured.reflection[kept],
    )  # fmt: skip


def _plausible(measured: Measured) -> Measured:
    """A word where the unit of frequency is likely to be wrong."""
    low, high = float(measured.frequency[0]), float(measured.frequency[-1])
    if high >= 1e6 and low <= 30e9:
        return measured
    return _noted(
        measured, f"runs from {format_frequency(low)} to {format_frequency(high)}: check the unit of frequency"
    )
