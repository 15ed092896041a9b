"""Diagnosis and trim advice on random antennas: the stored studies, and a small part of each made again.

The reference is the same engine on other meshes (``tests/reference/make_diagnosis.py``, ``make_trimming.py``): that tests what is
concluded from a sweep, not the equations behind it.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "reference"))

import make_diagnosis
import make_trimming

from aerialwright.antennas.catalogue import families
from aerialwright.bench.diagnose import FLATTENED, HIGH
from aerialwright.bench.evidence import HAND_HELD

DIAGNOSED = json.loads(make_diagnosis.STORED.read_text("utf-8"))
TRIMMED = json.loads(make_trimming.STORED.read_text("utf-8"))


def test_the_tables_are_of_todays_program() -> None:
    """Same seed, settings, faults and families as the code has now."""
    assert DIAGNOSED["seed"] == TRIMMED["seed"] == make_diagnosis.SEED
    assert DIAGNOSED["settings"]["instrument"] == repr(HAND_HELD)
    assert (DIAGNOSED["settings"]["flattened"], DIAGNOSED["settings"]["high"]) == (FLATTENED, HIGH)
    assert {row["fault"] for row in DIAGNOSED["cases"]} == set(make_diagnosis.FAULTS)
    kinds = {kind.key for kind in families()}
    assert {row["family"] for row in DIAGNOSED["cases"]} == {row["family"] for row in TRIMMED["builds"]} == kinds


def test_the_summaries_are_of_their_rows() -> None:
    assert make_diagnosis.summary(DIAGNOSED["cases"]) == DIAGNOSED["all"]
    assert make_diagnosis.summary(DIAGNOSED["magnitude cases"]) == DIAGNOSED["magnitude only"]
    assert make_diagnosis.calibration(DIAGNOSED["cases"]) == DIAGNOSED["calibration"]
    assert make_trimming.summary(TRIMMED["builds"]) == TRIMMED["all"]


def test_the_right_cause_comes_first_in_nine_of_ten() -> None:
    """Of 500 random faults; and what is said with high confidence is wrong in less than one of fifty."""
    all_, cases = DIAGNOSED["all"], len(DIAGNOSED["cases"])
    assert cases >= 500
    assert all_["right cause first"] >= 0.9 * cases
    assert all_["high confidence and wrong"] <= 0.02 * cases
    # Confidence that is never high would never be wrong.
    assert all_["high confidence"] >= 0.5 * cases


def test_probabilities_are_not_bold() -> None:
    """Where there are cases enough, a stated probability is not far above how often it was right."""
    for row in DIAGNOSED["calibration"]:
        if row["cases"] >= 20:
            assert row["stated"] <= row["right"] + 0.1


def test_trimming_ends_inside_the_limit() -> None:
    all_, builds = TRIMMED["all"], len(TRIMMED["builds"])
    assert builds >= 950 and TRIMMED["refused"] <= 0.02 * builds
    assert all_["end inside the limit"] >= 0.95 * builds
    assert all_["cut too far"] == 0
    assert all_["most cuts"] <= 3
    # Hardly a study of trimming if nothing needed it.
    assert all_["inside the limit at the first sweep"] < 0.7 * builds


@pytest.mark.slow
def test_faults_named_again() -> None:
    """Faults that are not in the table, on one antenna: most are named, none wrong with high confidence."""
    one = make_diagnosis.antenna(70_001, "disc-ground-plane")
    rows = [make_diagnosis.judge(one, make_diagnosis.draw(one, 70_001_000 + k)) for k in range(8)]
    assert sum(row["place"] == 1 for row in rows) >= 6
    assert not [row for row in rows if row["confidence"] == "high" and row["place"] != 1]


@pytest.mark.slow
def test_builds_trimmed_again() -> None:
    """Builds that are not in the table, on one antenna."""
    one, limit = make_trimming.fit_antenna(170_002, "sheet-monopole")
    rows = [make_trimming.trimmed(one, limit, 70_002_000 + k) for k in range(8)]
    assert sum(bool(row["inside"]) for row in rows) >= 7
    assert not any(row["cut too far"] for row in rows)
