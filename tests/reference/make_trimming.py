"""Does the trim advice bring antennas into the asked limit, and does it ever cut too far? Random builds; writes ``trimming.json``.

    OPENBLAS_NUM_THREADS=1 python tests/reference/make_trimming.py [builds]

Every family, sized for a random band (``make_diagnosis.antenna``). A build has errors in every cut and bend, the trim allowance
left on where the family has one (one in ten forgot it and cut short), and in three of ten plastic that the design does not know.
It is swept with the errors of a hand-held instrument, trimmed as advised with a saw that misses, and swept again until the advice
says to stop. The built antenna is solved on the quick mesh, which differs from the one the advice knows by about a per cent.
"""

from __future__ import annotations

import datetime
import json
import math
import platform
import sys
import time
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

import numpy as np
from make_diagnosis import REFERENCE, SEED, Antenna, Random, _coated, antenna, measured
from make_error_band import compact

from aerialwright.antennas.catalogue import families
from aerialwright.base.atomic import write_text_atomic
from aerialwright.base.errors import AerialwrightError
from aerialwright.bench.altered import dimension_keys, hand_error
from aerialwright.bench.diagnose import DiagnosisError
from aerialwright.bench.records import Measured, Moved
from aerialwright.bench.responses import ABOVE, BELOW, solver, view
from aerialwright.bench.trim import MOST_CUTS, TrimLog, advise, per_piece
from aerialwright.design.model import Design
from aerialwright.design.quick import QUICK
from aerialwright.lines.mismatch import reflection_of_swr, swr_of
from aerialwright.structure.model import Structure

STORED = Path(__file__).with_name("trimming.json")
BUILDS, EACH = 1000, 36
#: The strictest of these is asked that the design meets with this part of its reflection.
LIMITS, INSIDE = (1.5, 1.7, 2.0, 2.5), 0.8
#: Left on for trimming, part of the length: least and most. Common practice, no source.
ALLOWANCE = (0.02, 0.06)
#: A saw misses by this [m], a bend made by hand by this [degree], one standard deviation; more rounds than anyone would make.
SAW, BENDING, ROUNDS = 0.5e-3, 2.5, 8
#: Parts of the length that are put on again, to see whether too much was cut.
LONGER = (0.0025, 0.005, 0.01, 0.015, 0.02, 0.03)


@dataclass
class Build:
    """An antenna as built: its true values, and the plastic drawn for it by a seed of its own (None: as designed)."""

    design: Design
    plastic: int | None

    def structure(self) -> Structure:
        """Its metal and plastic."""
        made = self.design.structure()
        return made if self.plastic is None else _coated(np.random.default_rng(self.plastic), made)[0]


def fit_antenna(seed: int, key: str) -> tuple[Antenna, float]:
    """An antenna with the limit that is asked of it."""
    for again in range(40):
        one = antenna(seed + 10_000 * again, key)
        band = one.bands[0]
        at = view(one.known, np.linspace(band.low, band.high, 9))
        for limit in LIMITS:
            if np.abs(at.base).max() < INSIDE * reflection_of_swr(limit):
                return one, limit
    raise RuntimeError(f"no {key} meets the limit")


def built(one: Antenna, random: Random) -> Build:
    """A build of an antenna."""
    design = one.design
    near = view(one.known, one.known.frequency)
    changes = {}
    for key in dimension_keys(design):
        if key in near.responses.tables:
            p = design.family.parameter(key)
            value = design.values[key] + 2.0 * random.normal() * hand_error(design, key)
            if key == design.family.main_length:
                allowance = random.uniform(*ALLOWANCE) if design.family.narrow or key == "total_length" else 0.0
                value *= 1.0 + (random.uniform(-0.03, 0.0) if random.random() < 0.1 else allowance)
            changes[key] = float(np.clip(value, p.lowest, p.highest))
    return Build(design.with_values(**changes), int(random.integers(2**31)) if random.random() < 0.3 else None)


def worst_swr(one: Antenna, build: Build, *, longer: float = 0.0) -> float:
    """True worst SWR over the band, with the main length changed by a part of itself."""
    main, band = build.design.family.main_length, one.bands[0]
    there = Build(build.design.with_values(**{main: build.design.values[main] * (1.0 + longer)}), build.plastic)
    f = np.linspace(band.low, band.high, 9)
    return float(swr_of(np.abs(solver(f, one.design, REFERENCE, settings=QUICK)(there.structure())).max()))


def trimmed(one: Antenna, limit: float, seed: int) -> dict[str, object]:
    """One build from the first sweep to the end."""
    random = np.random.default_rng([SEED, 2, seed])
    build = built(one, random)
    band, main = one.bands[0], one.design.family.main_length
    f = np.linspace(band.low * (BELOW + 0.02), band.high * (ABOVE - 0.02), 101)
    solve = solver(f, one.design, REFERENCE, settings=QUICK)
    start = worst_swr(one, build)
    short = start > limit and worst_swr(one, build, longer=0.01) < start
    log: TrimLog = ()
    said, lengthened, bends = [], False, 0
    for round_ in range(ROUNDS):
        read = measured(random, f, solve(build.structure()))
        sweep = Measured(f, read, REFERENCE, True, "simulated")
        moved = Moved(sweep, sweep, np.zeros(len(f)), np.zeros(len(f)), 0.0, ())
        advice = advise(one.design, moved, one.bands, reference=REFERENCE, limit=limit, log=log)
        said.append(advice.verdict)
        if advice.verdict in ("done", "stop") or (advice.verdict == "bend" and bends >= 3):
            break
        entry = advice.entry(date=f"round {round_ + 1}", sweep="simulated")
        log = (*log, entry)
        changes: dict[str, float] = {}
        if entry.cut:
            share = per_piece(one.design)
            miss = sum(random.normal() * SAW for _ in range(round(1.0 / share)))
            changes[main] = build.design.values[main] - entry.cut / share + miss
            lengthened |= entry.cut < 0.0
        if advice.bend:
            bends += 1
            limits = build.design.family.parameter(advice.bend_key)
            bent = build.design.values[advice.bend_key] + advice.bend + random.normal() * BENDING
            changes[advice.bend_key] = float(np.clip(bent, limits.lowest, limits.highest))
        build = Build(build.design.with_values(**changes), build.plastic)
    end = worst_swr(one, build)
    # Past recovery: with the metal that was cut off it would be inside, without it it is not.
    too_far = end > limit and "cut" in said and any(worst_swr(one, build, longer=part) <= limit for part in LONGER)
    return {
        "family": one.design.family_key,
        "seed": seed,
        "plastic": build.plastic is not None,
        "too short from the start": bool(short),
        "limit": limit,
        "first": round(start, 2),
        "end": round(end, 3),
        "inside": bool(end <= limit),
        "cuts": sum(bool(entry.cut > 0.0) for entry in log),
        "lengthened": bool(lengthened),
        "said": said,
        "cut too far": bool(too_far and not short),
    }


def summary(rows: list[dict[str, object]]) -> dict[str, object]:
    """Counts over a list of builds."""
    short = [row for row in rows if row["too short from the start"]]
    return {
        "builds": len(rows),
        "inside the limit at the first sweep": sum(row["said"] == ["done"] for row in rows),
        "end inside the limit": sum(bool(row["inside"]) for row in rows),
        "part": round(sum(bool(row["inside"]) for row in rows) / max(len(rows), 1), 4),
        "cut too far": sum(bool(row["cut too far"]) for row in rows),
        "most cuts": max((int(str(row["cuts"])) for row in rows), default=0),
        "too short from the start": len(short),
        "of these told to lengthen": sum("lengthen" in str(row["said"]) for row in short),
    }


def study(builds: int, *, first_seed: int = 0) -> tuple[list[dict[str, object]], int]:
    """Builds on as many antennas as they need, families in turn; and how many could not be solved or swept."""
    keys = [kind.key for kind in families()]
    rows: list[dict[str, object]] = []
    refused = 0
    for number in range(math.ceil(builds / EACH)):
        one, limit = fit_antenna(100_000 + first_seed + number, keys[number % len(keys)])
        for k in range(min(EACH, builds - len(rows))):
            try:
                rows.append(trimmed(one, limit, (first_seed + number) * 1000 + k))
            except (AerialwrightError, DiagnosisError) as error:
                refused += 1
                print(error, file=sys.stderr)
        print(f"{len(rows)} builds, {time.process_time():.0f} s", file=sys.stderr, flush=True)
    return rows, refused


def main(builds: int) -> None:
    """Run and write the table."""
    rows, refused = study(builds)
    stored = {
        "what": "worst SWR over the band before and after trimming as advised, of random builds",
        "made with": {name: version(name) for name in ("numpy", "scipy", "numba")}
        | {"python": platform.python_version()},
        "made on": datetime.date.today().isoformat(),
        "seed": SEED,
        "settings": {"limits": LIMITS, "inside": INSIDE, "allowance": ALLOWANCE, "saw [m]": SAW, "bend [degree]": BENDING,
                     "most cuts": MOST_CUTS, "built on": repr(QUICK)},
        "processor seconds": round(time.process_time()),
        "refused": refused,
        "all": summary(rows),
        "with unknown plastic": summary([row for row in rows if row["plastic"]]),
        "families": {kind.key: summary([row for row in rows if row["family"] == kind.key]) for kind in families()},
        "builds": rows,
    }  # fmt: skip
    write_text_atomic(STORED, compact(stored, "families", "builds"))
    print(json.dumps({key: stored[key] for key in ("all", "with unknown plastic")}, indent=1), file=sys.stderr)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else BUILDS)
