"""Size one family for one band without a project folder."""

from __future__ import annotations

from aerialwright.antennas.catalogue import family
from aerialwright.antennas.family import Shelf
from aerialwright.base.errors import DesignError
from aerialwright.base.units import parse_frequency_range, parse_impedance, parse_length
from aerialwright.design.evaluate import evaluate
from aerialwright.design.model import Design, span_of
from aerialwright.design.records import Evaluation
from aerialwright.design.tune import tune
from aerialwright.need.check import check_need
from aerialwright.need.model import Band, FarEnd, FeedLine, Limits, Need, Site, StockItem
from aerialwright.stock.cables import OTHER


def size_one(key: str, *, band: str, metal: str, diameter: str, coax: str, socket: str) -> Evaluation:
    """Tune and solve one family; arguments as people write them.

    Raises
    ------
    AerialwrightError
        Names the argument that is wrong.
    """
    kind = family(key, where="FAMILY")
    low, high = parse_frequency_range(band, where="BAND")
    thick = parse_length(diameter, where="--diameter", positive=True)
    reference = parse_impedance(coax, where="--coax")
    stock = (
        StockItem("tube" if thick >= 8e-3 else "rod", metal, "", 1000, diameter=thick, length=6.0),
        StockItem("sheet", metal, "", 10, width=2.0, length=2.0, thickness=1e-3),
    )
    need = Need(
        title=f"{kind.title} for {band}", question="", bands=(Band("asked band", low, high),), far_end=FarEnd(),
        polarisation="vertical", feed_lines=(FeedLine(OTHER, 0.0, reference),), site=Site(description="metal roof"),
        limits=Limits(largest_size=20.0), receiver_impedance=reference, connectors=(socket,), stock=stock,
    )  # fmt: skip
    check_need(need)
    span = span_of(need.bands)
    plans = kind.plans(need, Shelf(need), span)
    if not plans:
        raise DesignError("cannot be built from this metal", where=key, mend="try another diameter")
    thickest = max(plans, key=lambda plan: max(metal.diameter for metal in plan.metals.values()))
    plan = thickest if thick >= 8e-3 else plans[0]
    values, _ = kind.first_guess(plan, span)
    design = tune(Design(key, plan, values), need.bands, reference=reference, limits=need.limits).design
    return evaluate(design, need, need.bands)
