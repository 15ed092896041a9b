"""What would help to hear better, against Friis' formula worked by hand and the noise law of ITU-R P.372."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from small_needs import design_for, need_for

from aerialwright.air.hearing import ASSUMED_RECEIVER, Hearing, hear
from aerialwright.base.errors import NeedError
from aerialwright.design.evaluate import evaluate
from aerialwright.design.records import Evaluation
from aerialwright.lines.line import line_from_need
from aerialwright.lines.noise import cascade_db
from aerialwright.need.check import check_need
from aerialwright.need.model import FeedLine, Need, Preamplifier, Site

NEED = dataclasses.replace(
    need_for((145, 147)), feed_lines=(FeedLine("RG-58", 10.0), FeedLine("RG-213", 10.0)), receiver_impedance=50.0,
    receiver_noise_figure=6.0, preamplifier=Preamplifier(1.0, 20.0),
)  # fmt: skip
BAND = NEED.must_bands[0]


@pytest.fixture(scope="module")
def real() -> Evaluation:
    return evaluate(design_for("dipole", NEED), NEED, NEED.must_bands, sensitivities=False)


def matched(real: Evaluation, impedance: complex = 50.0 + 0j) -> Evaluation:
    """The antenna with an impedance of our own and no metal loss."""
    sweep = dataclasses.replace(real.sweep, impedance=np.full(len(real.frequency), impedance))
    return dataclasses.replace(real, sweep=sweep, efficiency=np.ones(len(real.frequency)))


def db(ratio: float) -> float:
    return 10 * math.log10(ratio)


def helped(found: Hearing) -> dict[str, float]:
    return {one.key: one.gain for one in found.helps}


def test_matched_chain_is_friis_by_hand(real: Evaluation) -> None:
    """Outside noise by [@itu-p372]: 72.5 - 27.7 log f and galactic 52 - 23 log f at 146 MHz; chain by [@friis-1944]."""
    found = hear(NEED, matched(real), BAND)
    loss = float(line_from_need(NEED.feed_lines[0]).loss_db(146e6))
    fa = 10 ** ((72.5 - 27.7 * math.log10(146)) / 10) + 10 ** ((52.0 - 23.0 * math.log10(146)) / 10)
    assert found.outside == pytest.approx(db(fa), abs=1e-6)
    assert found.chain == pytest.approx(loss + 6.0, abs=1e-6), "a cold line's loss adds to the noise figure"
    total = fa - 1 + 10 ** ((loss + 6.0) / 10)
    assert found.total == pytest.approx(db(total), abs=1e-6)
    mast = fa - 1 + 10 ** (cascade_db((1.0, 20.0), (loss, -loss), (6.0, 0.0)) / 10)
    shack = fa - 1 + 10 ** (cascade_db((loss, -loss), (1.0, 20.0), (6.0, 0.0)) / 10)
    gains = helped(found)
    assert gains["mast"] == pytest.approx(db(total / mast), abs=1e-6)
    assert gains["shack"] == pytest.approx(db(total / shack), abs=1e-6)
    assert gains["match"] == pytest.approx(0.0, abs=1e-9)
    better = float(line_from_need(NEED.feed_lines[1]).loss_db(146e6))
    assert gains["line 1"] == pytest.approx(db(total / (fa - 1 + 10 ** ((better + 6.0) / 10))), abs=1e-6)


def test_a_mismatch_counts_as_loss(real: Evaluation) -> None:
    """SWR 3 loses 1.249 dB (definition); behind it the noise figure is that much higher."""
    need = dataclasses.replace(NEED, feed_lines=(FeedLine("RG-58", 1e-3),))
    found = hear(need, matched(real, 150.0 + 0j), BAND)
    assert found.chain == pytest.approx(6.0 + 1.2494, abs=2e-3)
    assert helped(found)["match"] > 0.2


def test_the_site_decides(real: Evaluation) -> None:
    """A preamplifier is worth more the quieter the place, least in a city; in a noisy place nothing helps and it is said."""
    gain = []
    for noise in ("city", "residential", "rural", "quiet rural"):
        need = dataclasses.replace(NEED, site=Site("", noise=noise))
        found = hear(need, matched(real), BAND)
        gain.append(helped(found)["mast"])
        assert ("nothing at the receiving end" in found.reading) == (max(helped(found).values()) < 1.0)
    assert gain == sorted(gain) and gain[0] < 0.7 and gain[-1] > 3.0


def test_what_is_not_known_is_said(real: Evaluation) -> None:
    bare = dataclasses.replace(NEED, receiver_noise_figure=None, preamplifier=None)
    found = hear(bare, matched(real), BAND)
    assert any(f"{ASSUMED_RECEIVER:g} dB" in text for text in found.assumptions) and len(found.assumptions) == 2
    assert hear(NEED, matched(real), BAND).assumptions == ()
    high = need_for((420, 430))
    e = evaluate(design_for("dipole", high), high, high.must_bands, sensitivities=False)
    assert hear(high, e, high.must_bands[0]).cautions, "beyond the range of the noise law"


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"receiver_noise_figure": -1.0}, "receiver.noise_figure"),
        ({"preamplifier": Preamplifier(math.nan, 20.0)}, "preamplifier.noise_figure"),
        ({"preamplifier": Preamplifier(1.0, 0.0)}, "preamplifier.gain"),
    ],
)
def test_nonsense_is_refused(change: dict[str, object], word: str) -> None:
    need: Need = dataclasses.replace(NEED, **change)  # type: ignore[arg-type]
    with pytest.raises(NeedError, match=word):
        check_need(need)
