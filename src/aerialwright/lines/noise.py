"""What a receiver at the end of a line really hears: external noise, noise figure, and the cost of a mismatch.

Noise factors are ratios to ``k T0 B`` with T0 = 290 K, figures are in dB. The line is at T0.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from aerialwright.base.errors import Caution, NeedError
from aerialwright.base.units import format_frequency
from aerialwright.lines.mismatch import FloatArray

#: class -> (c, d) of ``Fam = c - d log10(f / MHz)`` [@itu-p372]
MAN_MADE = {
    "city": (76.8, 27.7),
    "residential": (72.5, 27.7),
    "rural": (67.2, 27.7),
    "quiet rural": (53.6, 28.6),
}
GALACTIC = (52.0, 23.0)
#: Range of the man-made curves [Hz] [@itu-p372].
LOWEST, HIGHEST = 0.3e6, 250.0e6


def _figure(constants: tuple[float, float], frequency: ArrayLike) -> FloatArray:
    c, d = constants
    return np.asarray(c - d * np.log10(np.asarray(frequency, dtype=np.float64) * 1e-6), dtype=np.float64)


def man_made_noise_db(noise: str, *, frequency: ArrayLike) -> FloatArray:
    """Median man-made noise figure [dB] of a class of place [@itu-p372]; for its range see :func:`noise_cautions`.

    Raises :class:`NeedError` for an unknown class.
    """
    if noise not in MAN_MADE:
        raise NeedError(
            f"'{noise[:40]}' is not a class of noise", where="site.noise", mend=f"allowed: {', '.join(MAN_MADE)}"
        )
    return _figure(MAN_MADE[noise], frequency)


def galactic_noise_db(*, frequency: ArrayLike) -> FloatArray:
    """Median galactic noise figure [dB] by [@itu-p372]."""
    return _figure(GALACTIC, frequency)


def external_noise_db(noise: str, *, frequency: ArrayLike) -> FloatArray:
    """Man-made and galactic noise together [dB], powers added."""
    total = 10.0 ** (man_made_noise_db(noise, frequency=frequency) / 10.0) + 10.0 ** (
        galactic_noise_db(frequency=frequency) / 10.0
    )
    return np.asarray(10.0 * np.log10(total), dtype=np.float64)


def noise_cautions(*, lowest: float, highest: float) -> tuple[Caution, ...]:
    """A note where the noise curves are stretched beyond the range they were measured in."""
    found = []
    for value, limit, beyond in ((lowest, LOWEST, lowest < LOWEST), (highest, HIGHEST, highest > HIGHEST)):
        if beyond:
            found.append(
                Caution(
                    "note",
                    f"the man-made noise curves end at {format_frequency(limit)}; beyond they are stretched",
                    "take the noise there as uncertain by some dB",
                    measured=value,
                    limit=limit,
                    unit="Hz",
                )
            )
    return tuple(found)


def system_noise_factor(*, external_db: ArrayLike, chain_db: ArrayLike, taken: ArrayLike = 1.0) -> FloatArray:
    """Noise factor at the antenna terminals: ``fa - 1 + fchain / m`` [@itu-p372].

    ``external_db`` noise figure of what the antenna hears, ``chain_db`` noise figure of everything behind it (line
    loss plus receiver, by Friis [@friis-1944]), ``taken`` the share ``m = 1 - |r|^2`` of the available power that
    passes the mismatch. The reflected share returns noise of the line, at T0: that makes a mismatch count as a loss.
    """
    fa = 10.0 ** (np.asarray(external_db, dtype=np.float64) / 10.0)
    chain = 10.0 ** (np.asarray(chain_db, dtype=np.float64) / 10.0)
    return np.asarray(fa - 1.0 + chain / np.asarray(taken, dtype=np.float64), dtype=np.float64)


def mismatch_cost_db(*, external_db: ArrayLike, chain_db: ArrayLike, reflection: ArrayLike) -> FloatArray:
    """Signal-to-noise ratio [dB] that a reflection coefficient of size ``|r|`` at the antenna costs a receiver."""
    taken = 1.0 - np.abs(np.asarray(reflection, dtype=np.complex128)) ** 2
    with np.errstate(divide="ignore"):
        worse = system_noise_factor(external_db=external_db, chain_db=chain_db, taken=taken)
    best = system_noise_factor(external_db=external_db, chain_db=chain_db)
    return np.asarray(10.0 * np.log10(worse / best), dtype=np.float64)


def cascade_db(*stages: tuple[float, float]) -> float:
    """Noise figure [dB] of stages in order, each ``(noise figure [dB], gain [dB])``, by Friis [@friis-1944].

    A line at T0 is ``(loss, -loss)``; the gain of the last stage does not matter.
    """
    total, gain = 1.0, 1.0
    for figure, stage_gain in stages:
        total += (10.0 ** (figure / 10.0) - 1.0) / gain
        gain *= 10.0 ** (stage_gain / 10.0)
    return float(10.0 * np.log10(total))
