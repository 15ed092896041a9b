"""Computed sweeps as CSV and Touchstone."""

from __future__ import annotations

import io

import numpy as np

from aerialwright.lines.mismatch import finite_swr, reflection
from aerialwright.solution.records import ComplexArray, FloatArray


def sweep_csv(frequency: FloatArray, impedance: ComplexArray, error: FloatArray) -> str:
    """CSV with a heading: frequency [MHz], R and X [ohm], error radius [ohm], SWR for 50 and 75 ohm."""
    out = io.StringIO()
    out.write("frequency_MHz,resistance_ohm,reactance_ohm,error_ohm,swr_50,swr_75\n")
    ratios = [finite_swr(reflection(impedance, reference=reference)) for reference in (50.0, 75.0)]
    for f, z, e, at_50, at_75 in zip(frequency, impedance, error, *ratios, strict=True):
        shown = f"{e:.4g}" if np.isfinite(e) else ""
        out.write(f"{f / 1e6:.6f},{z.real:.5f},{z.imag:.5f},{shown},{at_50:.4f},{at_75:.4f}\n")
    return out.getvalue()


def touchstone(frequency: FloatArray, impedance: ComplexArray, *, reference: float = 50.0, comment: str = "") -> str:
    """One-port Touchstone text (version 1, RI, Hz) by scikit-rf [@touchstone]; ``comment`` goes on top."""
    import skrf

    s = reflection(impedance, reference=reference).reshape(-1, 1, 1)
    network = skrf.Network(frequency=skrf.Frequency.from_f(frequency, unit="hz"), s=s, z0=reference)
    text = network.write_touchstone(filename="sweep", return_string=True, form="ri", write_z0=False, skrf_comment=False)
    lines = [line for line in str(text).splitlines() if not line.startswith("!Created")]
    heading = "".join(f"! {part}\n" for part in comment.splitlines())
    return heading + "\n".join(lines).rstrip() + "\n"
