"""Size one family for one band without a project folder."""

from __future__ import annotations

from dataclasses import replace

from aerialwright.antennas.catalogue import family
from aerialwright.antennas.family import Family, Shelf, Values, with_diameters
from aerialwright.base.errors import DesignError
from aerialwright.base.units import parse_frequency_range, parse_impedance, parse_length, parse_quantity
from aerialwright.design.evaluate import evaluate
from aerialwright.design.model import Design, span_of
from aerialwright.design.records import Evaluation
from aerialwright.design.tune import tune
from aerialwright.need.check import check_need
from aerialwright.need.model import Band, FarEnd, FeedLine, Limits, Need, Site, StockItem
from aerialwright.stock.cables import OTHER


def sized(
    key: str, *, band: str, metal: str, diameter: str, coax: str, socket: str, keep: tuple[str, ...] = ()
) -> tuple[Need, Evaluation]:
    """Tune and solve one family for a need of its own; arguments as people write them. ``keep``: dimensions, each ``"key=value"``.

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
        polarisation="vertical", feed_lines=(FeedLine(OTHER, 0.0, reference),), site=Site(metal_sheet=1e3),
        limits=Limits(largest_size=20.0), receiver_impedance=reference, connectors=(socket,), stock=stock,
    )  # fmt: skip
    check_need(need)
    span = span_of(need.bands)
    plans = kind.plans(need, Shelf(need), span)
    if not plans:
        raise DesignError("cannot be built from this metal", where=key, mend="try another diameter")
    thickest = max(plans, key=lambda plan: max(metal.diameter for metal in plan.metals.values()))
    plan = thickest if thick >= 8e-3 else plans[0]
    if keep:
        plan = replace(plan, fixed={**plan.fixed, **_kept(kind, keep)}, title=f"{kind.title}, {', '.join(keep)}")
    values, _ = kind.first_guess(plan, span)
    values |= {key: value for key, value in plan.fixed.items() if not key.startswith("_")}
    plan = with_diameters(plan, values)
    design = tune(Design(key, plan, values), need.bands, reference=reference, limits=need.limits).design
    return need, evaluate(design, need, need.bands)


def _kept(kind: Family, keep: tuple[str, ...]) -> Values:
    """``key=value`` texts as values of the family's own dimensions."""
    out: Values = {}
    for text in keep:
        name, sign, value = text.partition("=")
        if not sign:
            raise DesignError(f"'{text}' has no '='", where="--keep", mend="write DIMENSION=VALUE")
        parameter = kind.parameter(name.strip())
        out[parameter.key] = float(parse_quantity(value.strip(), parameter.kind, where=f"--keep {parameter.key}"))
    return out
