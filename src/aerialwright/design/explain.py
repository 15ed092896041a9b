"""Answers to 'why' as computed curves of exactly the antennas compared."""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from aerialwright.antennas.catalogue import families
from aerialwright.base.errors import AerialwrightError
from aerialwright.base.printing import format_dimension, format_frequency, format_ratio
from aerialwright.design.evaluate import worst_swr
from aerialwright.design.model import Design, span_of, tuning_frequencies
from aerialwright.design.quick import quick_impedance
from aerialwright.design.rank import Candidate
from aerialwright.design.records import Curve, Proposal
from aerialwright.need.model import Band, Need
from aerialwright.solution.records import FloatArray


@dataclass(frozen=True)
class Question:
    """One curve to compute: move ``key`` of a design over ``values`` and look at ``bands``."""

    key: str
    question: str
    design: Design
    dimension: str
    values: tuple[float, ...]
    bands: tuple[Band, ...]
    reference: float
    kind: str
    marks: tuple[tuple[str, float], ...]


def answer(question: Question) -> Curve | None:
    """Compute one curve on the quick mesh; None when too few of its values can be built."""
    span = span_of(question.bands)
    across = tuning_frequencies(question.bands)
    at = np.unique(np.append(across, span.centre))
    centre = int(np.argmin(np.abs(at - span.centre)))
    xs, resistance, reactance, worst = [], [], [], []
    for value in question.values:
        try:
            z = quick_impedance(question.design.with_values(**{question.dimension: value}), at)
        except AerialwrightError:
            continue
        xs.append(value)
        resistance.append(float(z[centre].real))
        reactance.append(float(z[centre].imag))
        worst.append(worst_swr(z[np.isin(at, across)], question.reference))
    if len(xs) < 3:
        return None
    x = np.array(xs)
    parameter = question.design.family.parameter(question.dimension)
    kind = parameter.kind
    if question.kind == "impedance":
        series: tuple[tuple[str, FloatArray], ...] = (
            ("resistance", np.array(resistance)),
            ("reactance", np.array(reactance)),
        )
        y_label, unit = f"impedance at {format_frequency(span.centre)}", "ohm"
    else:
        series = (("worst SWR over the bands", np.array(worst)),)
        y_label, unit = "worst SWR", ""
    return Curve(
        key=question.key, question=question.question, x_label=parameter.label, x_kind=kind, x=x, y_label=y_label, y_unit=unit,
        series=series, marks=question.marks,
        reading=_reading(question, x, np.array(resistance), np.array(reactance), np.array(worst)),
    )  # fmt: skip


def _show(value: float, kind: str) -> str:
    return format_dimension(value, kind, angle_digits=0)


def _reading(question: Question, x: FloatArray, r: FloatArray, reactance: FloatArray, worst: FloatArray) -> str:
    parameter = question.design.family.parameter(question.dimension)
    kind = parameter.kind
    name = parameter.label
    if question.kind == "impedance":
        text = (
            f"From {_show(x[0], kind)} to {_show(x[-1], kind)} of {name} the resistance goes from {r[0]:.0f} to {r[-1]:.0f} ohm "
            f"and the reactance from {reactance[0]:+.0f} to {reactance[-1]:+.0f} ohm."
        )
        target = question.reference
        crossing = np.nonzero((r[:-1] - target) * (r[1:] - target) <= 0)[0]
        if len(crossing):
            i = int(crossing[0])
            t = (target - r[i]) / (r[i + 1] - r[i]) if r[i + 1] != r[i] else 0.0
            text += f" It passes the {target:.0f} ohm of the coax at {_show(x[i] + t * (x[i + 1] - x[i]), kind)}."
        else:
            text += f" It never reaches the {target:.0f} ohm of the coax."
        return text
    best = int(np.argmin(worst))
    text = f"The worst SWR over the bands is lowest, {format_ratio(worst[best])}, where the {name} is {_show(x[best], kind)}"
    text += (
        f"; at {_show(x[0], kind)} it is {format_ratio(worst[0])}, at {_show(x[-1], kind)} {format_ratio(worst[-1])}."
    )
    rule = [m for m in question.marks if "rule" in m[0]]
    built = [m for m in question.marks if "built" in m[0]]
    if rule and built and x[0] <= rule[0][1] <= x[-1]:
        gap = rule[0][1] - built[0][1]
        at_rule = float(np.interp(rule[0][1], x, worst))
        way = "longer" if gap > 0 else "shorter"
        text += (
            f" The rule of thumb says {_show(rule[0][1], kind)}, {_show(abs(gap), kind)} {way}; "
            f"there it would be {format_ratio(at_rule)}."
        )
    return text


def _around(value: float, low: float, high: float, count: int = 9) -> tuple[float, ...]:
    return tuple(float(v) for v in np.linspace(low * value, high * value, count))


def questions_for(need: Need, candidates: list[Candidate], proposals: tuple[Proposal, ...]) -> list[Question]:
    """The curves worth drawing for this comparison."""
    reference = need.feed_lines[0].impedance
    out: list[Question] = []
    top = proposals[0].members[0].evaluation
    lead = next(c for c in candidates if c.evaluation is top)
    main = lead.design.family.main_length
    if main:
        built = lead.design.values[main]
        rule = next(d.value for d in top.first_guess if d.key == main)
        low, high = min(0.85 * built, 0.97 * rule), max(1.15 * built, 1.03 * rule)
        values = tuple(float(v) for v in np.linspace(low, high, 11))
        label = lead.design.family.parameter(main).label
        out.append(
            Question("rule", f"Why does the rule-of-thumb {label} miss?", lead.design, main, values, lead.bands, reference, "swr",
                     (("rule of thumb", rule), ("built", built)))
        )  # fmt: skip
    # The first question of every family before the second of any.
    for depth in range(max(len(kind.questions) for kind in families())):
        for kind in families():
            found = lead if kind.key == top.family else _best(candidates, kind.key)
            if found is None or depth >= len(kind.questions):
                continue
            key, words = kind.questions[depth]
            if kind.key == top.family and key == main:
                continue
            question = _question(found, key, words, reference)
            if question is not None:
                out.append(question)
    return out[:MOST_CURVES]


#: Enough to look at.
MOST_CURVES = 8
#: What a count is tried at.
COUNTS = (2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0)


def _question(found: Candidate, key: str, words: str, reference: float) -> Question | None:
    """The curve of one dimension of one antenna; None where the dimension is not in play."""
    design = found.design
    parameter = design.family.parameter(key)
    built = design.values.get(key, 0.0)
    shows = "swr"
    if parameter.kind == "count":
        if built < 1:
            return None
        values = tuple(v for v in COUNTS if parameter.lowest <= v <= parameter.highest)
    elif key.endswith("droop"):
        # A droop is read as the impedance it gives.
        values, shows = tuple(float(v) for v in range(0, 80, 10)), "impedance"
    else:
        values = _around(built, 0.6, 1.4)
    name = f"{design.family_key}-{key}"
    words = f"{words} Here: {found.evaluation.title}."
    return Question(name, words, design, key, values, found.bands, reference, shows, (("built", built),))


def _best(candidates: list[Candidate], kind: str) -> Candidate | None:
    mine = [c for c in candidates if c.design.family_key == kind and not c.evaluation.owned]
    return min(
        mine, key=lambda c: max(f.swr_worst for f in c.evaluation.bands if f.band.importance == "must"), default=None
    )


def curves_for(
    need: Need, candidates: list[Candidate], proposals: tuple[Proposal, ...], *, executor: Executor | None = None
) -> tuple[Curve, ...]:
    """All curves, spread over ``executor`` where there is one."""
    questions = questions_for(need, candidates, proposals)
    found = list(executor.map(answer, questions)) if executor is not None else [answer(q) for q in questions]
    return tuple(curve for curve in found if curve is not None)
