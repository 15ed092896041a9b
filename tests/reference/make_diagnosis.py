"""How often is the right cause named? Random antennas with one fault each, solved on a finer mesh; writes ``diagnosis.json``.

    OPENBLAS_NUM_THREADS=1 python tests/reference/make_diagnosis.py [cases]

Every family, sized by the program for a random band of 45 MHz to 1.3 GHz from random stock. Each case has the small errors of a
careful hand in every dimension and in the plane, one fault drawn from its plausible range (even over octaves of its size, where
the diagnosis believes it even over size), and the errors of a hand-held instrument. Faults of metal, plastic, coax and metal
nearby are solved by the engine on a mesh of half the size of the one that the diagnosis knows. A fault counts as detectable, and
is drawn again otherwise, from a change of the reflection of :data:`DETECTABLE` (root mean square over the sweep).
"""

from __future__ import annotations

import datetime
import json
import math
import platform
import sys
import time
from dataclasses import dataclass, replace
from importlib.metadata import version
from pathlib import Path

import numpy as np
from make_error_band import _log, _plans, compact
from scipy.interpolate import CubicSpline

from aerialwright.antennas.catalogue import families, family
from aerialwright.antennas.family import Span
from aerialwright.base.atomic import write_text_atomic
from aerialwright.base.constants import c as LIGHT
from aerialwright.base.errors import AerialwrightError
from aerialwright.bench.altered import dimension_keys, hand_error, one_radial_off
from aerialwright.bench.causes import PLANE_ERROR
from aerialwright.bench.diagnose import FLATTENED, HIGH, NO_FIT, Diagnosis, diagnose
from aerialwright.bench.evidence import HAND_HELD, Instrument
from aerialwright.bench.feed_faults import LOSS_FROM, LOSS_MOST, STRAY_FROM, STRAY_LARGEST
from aerialwright.bench.records import Measured, Moved
from aerialwright.bench.responses import (
    ABOVE,
    BELOW,
    Responses,
    View,
    responses,
    solver,
    view,
)
from aerialwright.design.common_mode import with_tube
from aerialwright.design.model import Design
from aerialwright.design.tune import tune
from aerialwright.engine.sweep import EngineSettings
from aerialwright.lines.line import transform_impedance
from aerialwright.lines.mismatch import impedance_of, reflection
from aerialwright.need.model import Band, Limits
from aerialwright.structure.model import Coating, Rod, Structure

STORED = Path(__file__).with_name("diagnosis.json")
SEED = 20261126
#: Cases with phase, faults drawn for each antenna, and how many of its faults are swept again without phase.
CASES, EACH, MAGNITUDES = 500, 18, 4
REFERENCE = 50.0
#: Least change of the reflection, root mean square over the sweep: three times the directivity that is left.
DETECTABLE = 0.06
#: Sizes tried before another kind of fault is taken.
TRIES = 8
LOWEST, HIGHEST = 45e6, 1.3e9
FINE = EngineSettings().fine

Random = np.random.Generator


@dataclass(frozen=True)
class Antenna:
    """A design, its band, and what the diagnosis knows of it."""

    design: Design
    bands: tuple[Band, ...]
    known: Responses


@dataclass(frozen=True)
class Case:
    """A fault with its size in words, and what was measured."""

    fault: str
    size: str
    moved: Moved
    change: float


def antenna(seed: int, key: str) -> Antenna:
    """A family sized for a random band."""
    random = np.random.default_rng([SEED, seed])
    kind = family(key)
    for _ in range(50):
        ratio = _log(random, 1.15, 1.6) if key in ("discone", "bicone") else 1.0 + random.uniform(0.005, 0.1)
        low = _log(random, LOWEST, HIGHEST / ratio)
        span = Span(low, low * ratio)
        plans = _plans(kind, random, span)
        if not plans:
            continue
        plan = plans[int(random.integers(len(plans)))]
        bands = (Band("band", span.low, span.high),)
        try:
            start = Design(key, plan, kind.first_guess(plan, span)[0])
            design = tune(start, bands, reference=REFERENCE, limits=Limits(largest_size=30.0, worst_swr=2.0)).design
            return Antenna(design, bands, responses(design, bands, reference=REFERENCE))
        except AerialwrightError:
            continue
    raise RuntimeError(f"no {key} can be built")


# ---- faults: each gives a structure and what the feed side makes of its reflection


def _departure(random: Random, near: View, key: str, sign: float) -> float | None:
    """A size between three times a careful hand's error and the end of the plausible range, even over octaves."""
    table = near.responses.tables[key]
    least, most = 3.0 * hand_error(near.responses.design, key), abs(table.high if sign > 0 else table.low)
    return sign * _log(random, least, most) if most > 1.2 * least else None


def _coated(random: Random, structure: Structure) -> tuple[Structure, str]:
    """Insulation, or a pipe with air in it, over the rods that radiate."""
    wall, permittivity, gap = _log(random, 3e-4, 4e-3), random.uniform(2.2, 4.0), random.choice([0.0, 1e-3])
    rods = tuple(
        rod if any(word in rod.name for word in ("radial", "spoke", "pin"))
        else replace(rod, coating=Coating(rod.radius + gap, rod.radius + gap + wall, permittivity, 0.01))
        for rod in structure.rods
    )  # fmt: skip
    return replace(structure, rods=rods), f"{wall * 1e3:.2g} mm of permittivity {permittivity:.2g}"


def _beside(random: Random, structure: Structure, wave: float) -> tuple[Structure, str]:
    """Rods of about half a wave on both sides, 0.1 to 0.6 wavelengths beside it."""
    away, turn = wave * random.uniform(0.1, 0.6), random.uniform(0.0, 2.0 * math.pi)
    radii = [math.hypot(x, y) for rod in structure.rods for x, y, _ in rod.points]
    reach = max(radii + [rho for surface in structure.surfaces for rho, _ in surface.profile])
    x, y = (0.05 * wave + reach + away) * np.array([math.cos(turn), math.sin(turn)])
    length, foot = wave * random.uniform(0.38, 0.56), -0.1 * wave if structure.ground == "none" else 0.02 * wave
    rod = Rod("metal nearby", ((x, y, foot), (x + 0.02 * wave, y, foot + length)), 6e-3, 2)
    return replace(structure, rods=(*structure.rods, rod)), f"rods of {length / wave:.2f} wavelengths"


def _structure(fault: str, random: Random, built: Design, near: View, wave: float) -> tuple[Structure, str] | None:
    """The metal of a case; None where this antenna cannot have the fault."""
    tables, main = near.responses.tables, built.family.main_length
    if fault in ("main too long", "main too short", "dimension"):
        keys = [key for key in dimension_keys(built) if key in tables and (key == main) == (fault != "dimension")]
        if not keys:
            return None
        key = str(random.choice(keys))
        sign = {"main too long": 1.0, "main too short": -1.0}.get(fault) or float(random.choice([-1.0, 1.0]))
        off = _departure(random, near, key, sign)
        if off is None:
            return None
        return built.with_values(**{key: built.values[key] + off}).structure(), f"{key} {off:+.4g}"
    if fault == "one radial":
        if "one radial" not in tables:
            return None
        part = -1.0 if random.random() < 0.3 and near.missing is not None else float(random.choice([-1.0, 1.0])) * 1.0
        if abs(part) == 1.0 and random.random() < 0.7:
            part = -_log(random, 0.06, 0.75) if part < 0 else _log(random, 0.06, 0.3)
        elif part == 1.0:
            part = _log(random, 0.06, 0.3)
        return one_radial_off(built, part), f"{part:+.2f}"
    if fault == "plastic":
        return _coated(random, built.structure()) if "plastic" in tables else None
    if fault == "coax outside":
        if "coax outside" not in tables:
            return None
        length = random.uniform(tables["coax outside"].low, tables["coax outside"].high)
        diameter = random.uniform(4e-3, 8e-3)
        return with_tube(built.structure(), diameter=diameter, length=length), f"{length / wave:.2f} wavelengths"
    if fault == "metal nearby":
        return _beside(random, built.structure(), wave)
    return built.structure(), ""


def _feed_side(fault: str, random: Random, f: np.ndarray, gamma: np.ndarray) -> tuple[np.ndarray, str]:
    """What stands between the antenna and the plane, or beside the antenna far away."""
    middle = math.sqrt(f[0] * f[-1])
    wave, omega = LIGHT / middle, 2.0 * math.pi * f
    load = impedance_of(gamma, reference=REFERENCE)

    def turned(offset: float) -> np.ndarray:
        return np.exp(-4j * math.pi * f * offset / LIGHT)

    if fault == "wall":
        size, away = _log(random, 0.05, 0.2), _log(random, 0.7, 6.0)
        echo = size * np.exp(2j * math.pi * random.random()) * turned(away) * (1.0 - gamma**2)
        return gamma + echo, f"{size:.2f} from {away:.1f} m"
    if fault == "plane":
        offset = float(random.choice([-1.0, 1.0])) * _log(random, 3.0 * PLANE_ERROR, 0.2 * wave)
        return gamma * turned(offset), f"{offset * 1e3:+.0f} mm"
    if fault == "strays":
        size = _log(random, STRAY_FROM, STRAY_LARGEST)
        if random.random() < 0.5:
            farad = size / (2 * math.pi * middle * REFERENCE)
            return reflection(load / (1.0 + 1j * omega * farad * load), reference=REFERENCE), f"{farad * 1e12:.1f} pF"
        henry = size * REFERENCE / (2 * math.pi * middle)
        return reflection(load + 1j * omega * henry, reference=REFERENCE), f"{henry * 1e9:.0f} nH"
    if fault == "section":
        other, length = float(random.choice([75.0, 35.0])), wave * random.uniform(0.05, 1.0)
        constant = 0.01 / wave + 1j * omega / LIGHT
        seen = transform_impedance(load=load, impedance=other, gamma=constant, length=length)
        removed = bool(random.random() < 0.5)
        if removed:
            seen = transform_impedance(load=seen, impedance=REFERENCE, gamma=1j * omega / LIGHT, length=-length)
        return reflection(
            seen, reference=REFERENCE
        ), f"{other:.0f} ohm, {length / wave:.2f}{' removed' if removed else ''}"
    if fault == "loss":
        decibel = _log(random, LOSS_FROM, LOSS_MOST)
        return gamma * 10.0 ** (-0.1 * decibel * np.sqrt(f / middle)), f"{decibel:.1f} dB"
    if fault == "open":
        farad, offset = random.uniform(0.02, 0.3) / (2 * math.pi * middle * REFERENCE), random.uniform(0.0, 0.05) * wave
        return reflection(1.0 / (1j * omega * farad), reference=REFERENCE) * turned(
            offset
        ) * 0.97, f"{farad * 1e12:.1f} pF"
    if fault == "short":
        henry, offset = random.uniform(0.02, 0.3) * REFERENCE / (2 * math.pi * middle), random.uniform(0.0, 0.05) * wave
        return reflection(0.3 + 1j * omega * henry, reference=REFERENCE) * turned(
            offset
        ) * 0.97, f"{henry * 1e9:.0f} nH"
    return gamma, ""


#: Every fault that is injected, and the causes that name it.
FAULTS = ("nothing", "main too long", "main too short", "dimension", "one radial", "plastic", "coax outside", "metal nearby", "wall",
          "plane", "strays", "section", "loss", "open", "short")  # fmt: skip


def right_cause(fault: str, size: str, design: Design) -> str:
    """Key of the cause that names a fault."""
    if fault.startswith("main"):
        return f"{design.family.main_length} {fault.removeprefix('main ')}"
    if fault == "dimension":
        return size.split()[0]
    return {"metal nearby": "near objects", "wall": "near objects"}.get(fault, fault)


def measured(random: Random, f: np.ndarray, gamma: np.ndarray, one: Instrument = HAND_HELD) -> np.ndarray:
    """What an instrument with the errors of its kind reads of a reflection (n,)."""

    def part(size: float) -> complex:
        return size * complex(random.normal(), random.normal())

    delay = random.uniform(0.0, one.turn)
    direct = part(one.directivity) * np.exp(-4j * math.pi * (f - f.mean()) * delay)
    read = direct + (1.0 + random.normal() * one.tracking) * gamma / (1.0 - part(one.source_match) * gamma)
    noise = random.normal(size=(2, len(f))) * one.trace / math.sqrt(2.0)
    return np.asarray(read + noise[0] + 1j * noise[1])


def slipped(random: Random, design: Design, near: View) -> Design:
    """The design as a careful hand builds it."""
    changes = {}
    for key in dimension_keys(design):
        if key in near.responses.tables:
            p = design.family.parameter(key)
            value = design.values[key] + random.normal() * hand_error(design, key)
            changes[key] = float(np.clip(value, p.lowest, p.highest))
    return design.with_values(**changes)


def draw(one: Antenna, seed: int, *, phase: bool = True) -> Case:
    """A random fault of an antenna, swept. The kind is drawn first, evenly over those that the antenna can have."""
    random = np.random.default_rng([SEED, 1, seed])
    for fault in random.permutation(FAULTS):
        for _ in range(TRIES):
            case = _tried(one, str(fault), random, phase=phase)
            if case is not None:
                return case
    raise RuntimeError("no detectable fault")


def _tried(one: Antenna, fault: str, random: Random, *, phase: bool) -> Case | None:
    """A fault of random size; None where the antenna cannot have it or it is too small to be seen."""
    low, high = one.bands[0].low, one.bands[0].high
    edges = low * random.uniform(BELOW, 0.9), high * random.uniform(1.12, ABOVE)
    f = np.linspace(*edges, int(random.choice([101, 201, 401, 1001])))
    coarse = np.linspace(*edges, 121)
    near = view(one.known, coarse)
    built = slipped(random, one.design, near)
    solve = solver(coarse, one.design, REFERENCE, settings=FINE)
    try:
        found = _structure(fault, random, built, near, LIGHT / math.sqrt(low * high))
        if found is None:
            return None
        without = solve(built.structure())
        gamma = solve(found[0]) if found[0] != built.structure() else without
    except AerialwrightError:
        return None
    gamma, words = _feed_side(fault, random, coarse, gamma)
    moved = np.abs(gamma - without) if phase else np.abs(gamma) - np.abs(without)
    change = float(np.sqrt(np.mean(moved**2)))
    if fault != "nothing" and change < DETECTABLE:
        return None
    gamma = gamma * np.exp(-4j * math.pi * coarse * random.normal() * PLANE_ERROR / LIGHT)
    joined = CubicSpline(coarse, gamma)(f)
    read = measured(random, f, joined)
    sweep = Measured(f, read if phase else np.abs(read).astype(complex), REFERENCE, phase, "simulated")
    return Case(fault, found[1] or words, Moved(sweep, sweep, np.zeros(len(f)), np.zeros(len(f)), 0.0, ()), change)


def judge(one: Antenna, case: Case) -> dict[str, object]:
    """What was said of a case."""
    started = time.perf_counter()
    said: Diagnosis = diagnose(one.design, case.moved, one.bands, reference=REFERENCE)
    spent = time.perf_counter() - started
    right = right_cause(case.fault, case.size, one.design)
    kin = next((f.cause.kin for f in said.findings if f.cause.key == right), "")
    place = next((n for n, f in enumerate(said.findings, 1) if f.cause.key == right), 99)
    return {
        "fault": case.fault,
        "size": case.size,
        "change": round(case.change, 3),
        "right": right,
        "said": said.best.cause.key,
        "probability": round(said.best.probability, 4),
        "confidence": said.confidence,
        "place": place,
        "kin": kin == said.best.cause.kin,
        "kin probability": round(said.kin_probability, 4),
        "second": said.runner_up.cause.key,
        "misfit": round(said.best.misfit, 2),
        "seconds": round(spent, 3),
    }


def summary(rows: list[dict[str, object]]) -> dict[str, object]:
    """Counts over a list of cases."""
    first = [row["place"] == 1 for row in rows]
    kin = [bool(row["kin"]) for row in rows]
    high = [row["confidence"] == "high" for row in rows]
    kin_high = [
        float(str(row["kin probability"])) >= HIGH and row["said"] != "unlisted" and float(str(row["misfit"])) < NO_FIT
        for row in rows
    ]
    return {
        "cases": len(rows),
        "right cause first": sum(first),
        "right among first two": sum(int(str(row["place"])) <= 2 for row in rows),
        "right next action first": sum(kin),
        "high confidence": sum(high),
        "high confidence and wrong": sum(h and not f for h, f in zip(high, first, strict=True)),
        "high confidence in the action": sum(kin_high),
        "high confidence in the action and wrong": sum(h and not k for h, k in zip(kin_high, kin, strict=True)),
    }


def calibration(rows: list[dict[str, object]]) -> list[dict[str, object]]:
    """Stated probability of the first cause against how often it was right."""
    out = []
    for low, high in ((0.0, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 0.9), (0.9, 0.97), (0.97, 1.01)):
        inside = [row for row in rows if low <= float(str(row["probability"])) < high]
        if inside:
            stated = float(np.mean([float(str(row["probability"])) for row in inside]))
            out.append({"cases": len(inside), "stated": round(stated, 3),
                        "right": round(float(np.mean([row["place"] == 1 for row in inside])), 3)})  # fmt: skip
    return out


def study(cases: int, *, first_seed: int = 0) -> tuple[list[dict[str, object]], list[dict[str, object]]]:
    """Cases with phase, and some of magnitude alone, on as many antennas as they need, families in turn."""
    keys = [kind.key for kind in families()]
    rows: list[dict[str, object]] = []
    flat: list[dict[str, object]] = []
    for number in range(math.ceil(cases / EACH)):
        one = antenna(first_seed + number, keys[number % len(keys)])
        for k in range(min(EACH, cases - len(rows))):
            seed = (first_seed + number) * 1000 + k
            rows.append({"family": one.design.family_key, "seed": seed, **judge(one, draw(one, seed))})
        for k in range(MAGNITUDES):
            seed = (first_seed + number) * 1000 + 500 + k
            flat.append({"family": one.design.family_key, "seed": seed, **judge(one, draw(one, seed, phase=False))})
        print(f"{len(rows)} cases, {time.process_time():.0f} s", file=sys.stderr, flush=True)
    return rows, flat


def main(cases: int) -> None:
    """Run and write the table."""
    rows, flat = study(cases)
    stored = {
        "what": "the cause that is named first for a random fault on a random antenna, and how sure it is",
        "made with": {name: version(name) for name in ("numpy", "scipy", "numba")}
        | {"python": platform.python_version()},
        "made on": datetime.date.today().isoformat(),
        "seed": SEED,
        "settings": {"instrument": repr(HAND_HELD), "injected on": repr(FINE), "detectable": DETECTABLE,
                     "flattened": FLATTENED, "high": HIGH, "no fit": NO_FIT},
        "processor seconds": round(time.process_time()),
        "all": summary(rows),
        "magnitude only": summary(flat),
        "calibration": calibration(rows),
        "slowest [s]": max(float(str(row["seconds"])) for row in rows),
        "faults": {fault: summary([row for row in rows if row["fault"] == fault]) for fault in FAULTS},
        "families": {kind.key: summary([row for row in rows if row["family"] == kind.key]) for kind in families()},
        "cases": rows,
        "magnitude cases": flat,
    }  # fmt: skip
    write_text_atomic(STORED, compact(stored, "faults", "families", "cases", "magnitude cases"))
    print(json.dumps({key: stored[key] for key in ("all", "magnitude only", "calibration")}, indent=1), file=sys.stderr)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else CASES)
