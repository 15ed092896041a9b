"""How the impedance moves with every build dimension: differences on one mesh that stretches with the antenna.

With the cuts of the mesh held, a small change of a dimension changes the discrete answer smoothly, so that a one-sided difference
of 1e-4 has an error of that order and no step of the mesh in it. Each dimension costs one further solve.
"""

from __future__ import annotations

import numpy as np

from aerialwright.base.errors import DesignError
from aerialwright.design.model import Design
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import prepare
from aerialwright.engine.threads import single_thread
from aerialwright.solution.records import ComplexArray, FloatArray

#: Relative step of a length, and step of an angle [degree].
LENGTH_STEP, ANGLE_STEP = 1e-4, 1e-2


def impedance_gradient(
    design: Design,
    frequency: FloatArray,
    *,
    keys: tuple[str, ...] | None = None,
    settings: MeshSettings | None = None,
) -> tuple[ComplexArray, dict[str, ComplexArray]]:
    """Impedance (n,) [ohm] at ``frequency`` (n,) [Hz] and its derivative by each dimension.

    ``keys`` default to every length and angle of the family. Derivatives (n,) in ohm per metre or ohm per degree.

    Raises
    ------
    DesignError
        For a dimension that is a count.
    StructureError
        If the metal cannot exist.
    """
    family = design.family
    settings = settings or MeshSettings()
    if keys is None:
        keys = tuple(p.key for p in family.parameters if p.kind != "count" and p.key in design.values)
    top = float(np.max(frequency))
    with single_thread():
        base = prepare(design.structure(), top_frequency=top, settings=settings)
        z = np.array([base.port_factor / base.solve(float(f)).admittance for f in frequency])
        out: dict[str, ComplexArray] = {}
        for key in keys:
            parameter = family.parameter(key)
            if parameter.kind == "count":
                raise DesignError(
                    "a count has no gradient", where=f"{family.key} {key}", mend="name a length or an angle"
                )
            value = design.values[key]
            step = ANGLE_STEP if parameter.kind == "angle" else LENGTH_STEP * max(value, 1e-3)
            if value + step > parameter.highest:
                step = -step
            changed = design.with_values(**{key: value + step}).structure()
            moved = prepare(changed, top_frequency=top, settings=settings, like=base.mesh)
            near = np.array([moved.port_factor / moved.solve(float(f)).admittance for f in frequency])
            out[key] = (near - z) / step
    return z, out
