"""A compared sweep and the state of the bench as plain data in SI units, for JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from aerialwright.app.workflow import plain
from aerialwright.bench.counsel import Counsel
from aerialwright.bench.diagnose import Diagnosis
from aerialwright.bench.trim import TrimAdvice
from aerialwright.project.work import Work
from aerialwright.solution.records import FloatArray

if TYPE_CHECKING:
    from aerialwright.app.bench import Benched


def benched_data(found: Benched) -> dict[str, Any]:
    """A comparison as plain data in SI units."""
    c, moved, note = found.comparison, found.comparison.moved, found.note
    return {
        "sweep": note.name,
        "file": note.file,
        "date": note.date.isoformat(),
        "antenna": note.antenna,
        "title": found.subject.title,
        "design": found.subject.identity,
        "note": note.note,
        "plane": {
            "kind": note.plane.kind,
            "line_type": note.plane.line_type,
            "length_m": plain(note.plane.length),
            "far_ends": dict(note.plane.far_ends),
            "loss_db": plain(moved.loss),
            "delay_s": plain(moved.delay),
            "notes": list(moved.notes),
            "refused": moved.refused,
        },
        "repairs": [{"what": repair.what, "where": repair.where} for repair in moved.at_instrument.repairs],
        "accepted": c.accepted,
        "reason": c.reason,
        "limit": plain(c.limit),
        "reference_ohm": plain(c.reference),
        "marks": {
            mark.key: {
                "unit": mark.unit,
                "measured": plain(mark.measured),
                "measured_error": plain(mark.measured_error),
                "predicted": plain(mark.predicted),
                "predicted_error": plain(mark.predicted_error),
                "difference": plain(mark.difference),
                "uncertainty": plain(mark.uncertainty),
                "differs": mark.differs,
            }
            for mark in c.marks
        },
        "bands": [{key: plain(value) for key, value in vars(check).items()} for check in c.bands],
        "notes": list(c.notes),
        "frequency_hz": plain(c.frequency),
        "measured": _curve(c.measured, c.measured_error, angle=moved.at_antenna.phase_known and not moved.refused),
        "predicted": _curve(c.predicted, c.predicted_error, angle=True),
        **_counsel(found.counsel),
        "work": [work_data(one) for one in found.work],
        "report": str(found.report),
    }


def _curve(value: np.ndarray[Any, np.dtype[np.complex128]], error: FloatArray, *, angle: bool) -> dict[str, Any]:
    """A reflection as data; only its size where the angle is not known."""
    size = {"reflection_size": plain(np.abs(value)), "error": plain(error)}
    return size | ({"reflection_real": plain(value.real), "reflection_imaginary": plain(value.imag)} if angle else {})


def _counsel(found: Counsel | None) -> dict[str, Any]:
    """Diagnosis and advice, each None where there is none; ``missing`` then says why."""
    if found is None:
        return {"diagnosis": None, "trim": None, "missing": "a free-form structure has no dimensions to fit"}
    return {
        "diagnosis": None if found.diagnosis is None else _diagnosis(found.diagnosis),
        "trim": None if found.advice is None else _advice(found, found.advice),
        "missing": found.missing,
    }


def _diagnosis(found: Diagnosis) -> dict[str, Any]:
    return {
        "reading": found.reading,
        "confidence": found.confidence,
        "action": found.action,
        "action_probability": plain(found.kin_probability),
        "next_test": found.next_test,
        "causes": [
            {
                "key": one.cause.key, "title": one.cause.title, "action": one.cause.action, "probability": plain(one.probability),
                "value": plain(one.value), "spread": plain(one.spread), "sentence": one.sentence, "misfit": plain(one.misfit),
            }
            for one in found.findings
        ],
        "frequency_hz": plain(found.frequency),
        "fitted_size": plain(np.abs(found.best.reflection)),
    }  # fmt: skip


def _advice(found: Counsel, advice: TrimAdvice) -> dict[str, Any]:
    """``verdict`` and ``text`` are what to do; the rest is the advice by length alone, which waits where the verdict is ``hold``."""
    return {
        "verdict": found.verdict,
        "text": found.text,
        "by_length": advice.verdict,
        "piece": advice.piece,
        "pieces": advice.count,
        "amount_m": plain(advice.amount),
        "whole_m": plain(advice.whole),
        "bend_dimension": advice.bend_key,
        "bend_degree": plain(advice.bend),
        "apparent_m": plain(advice.apparent),
        "spread_m": plain(advice.spread),
        "swr_now": plain(advice.swr_now),
        "swr_expected": plain(advice.swr_expected),
        "limit": plain(advice.limit),
        "cut_number": advice.number,
    }


def work_data(one: Work) -> dict[str, Any]:
    """A round of the trim log; ``cut_m`` is negative where metal was put on."""
    taught = one.taught
    return {
        "after_sweep": one.sweep, "antenna": one.antenna, "number": one.number, "noted": one.date.isoformat(), "piece": one.piece,
        "cut_m": plain(one.cut), "ruler_m": None if taught is None else plain(taught.ruler),
    }  # fmt: skip
