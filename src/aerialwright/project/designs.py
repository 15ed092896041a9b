"""Designs as TOML: family, plan and every value, exact, so that the antenna of an answer can be computed again.

An answer writes its designs to ``out/designs``; the one that gets built is kept in ``built`` (see :mod:`.sweeps`), where the next
answer does not reach it. ``designs`` holds free-form structures, which have no dimensions to fit.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import Any

from pydantic import Field

from aerialwright.antennas.catalogue import family
from aerialwright.antennas.family import Conductor, Family, Plan, Values
from aerialwright.antennas.plastic import Pipe
from aerialwright.base.units import exact_text, parse_quantity
from aerialwright.design.model import Design
from aerialwright.project.schema import Length, LengthOrZero, Prose, Table, Word, validate
from aerialwright.project.text import TomlText, read_toml
from aerialwright.stock.cables import cable, cables
from aerialwright.stock.connectors import Connector, coax_end, connector
from aerialwright.structure.model import Coating, Mesh, Metal

_HEADING = "# An antenna as it was computed. The file repeats that computation exactly: change nothing here.\n"


@dataclass(frozen=True)
class StoredDesign:
    """A design and the labels of the bands it is there for."""

    design: Design
    bands: tuple[str, ...]


class _Mesh(Table):
    pitch: Length
    wire_diameter: Length


class _Coating(Table):
    inner_radius: Length
    outer_radius: Length
    permittivity: float
    loss_tangent: float


class _Conductor(Table):
    kind: Word
    material: Word
    metal: Word
    conductivity: float
    relative_permeability: float
    source: Word
    diameter: LengthOrZero
    thickness: Length
    stock: Word = ""
    mesh: _Mesh | None = None
    insulation: _Coating | None = None


class _Pipe(Table):
    label: Word
    material: Word
    title: Word
    diameter: Length
    bore: Length
    permittivity: float
    loss_tangent: float


class _DesignFile(Table):
    family: Word
    key: Word
    title: Word
    bands: list[Word] = Field(max_length=100)
    socket: Word
    socket_cable: Word = ""
    horizontal: bool = False
    owned: bool = False
    remarks: list[Prose] = Field(default=[], max_length=100)
    dimensions: dict[Word, Any] = Field(max_length=200)
    held: dict[Word, Any] = Field(default={}, max_length=200)
    metal: dict[Word, _Conductor] = Field(max_length=50)
    cover: _Pipe | None = None


def design_text(design: Design, *, bands: tuple[str, ...]) -> str:
    """The file of a design made for the bands with these labels."""
    import tomlkit

    plan, kind = design.plan, design.family
    document: dict[str, Any] = {
        "family": design.family_key, "key": plan.key, "title": plan.title, "bands": list(bands), "socket": plan.socket.key,
        "socket_cable": _cable_of(plan.socket), "horizontal": plan.horizontal, "owned": design.owned, "remarks": list(plan.remarks),
        "dimensions": _written(design.values, kind), "held": _written(plan.fixed, kind),
        "metal": {role: _conductor_table(metal) for role, metal in plan.metals.items()},
    }  # fmt: skip
    if plan.cover is not None:
        document["cover"] = vars(plan.cover) | {
            "diameter": exact_text(plan.cover.diameter, "length"), "bore": exact_text(plan.cover.bore, "length"),
        }  # fmt: skip
    return _HEADING + tomlkit.dumps(document)


def read_design(path: str | os.PathLike[str]) -> StoredDesign:
    """The design of a file that :func:`design_text` wrote.

    Raises
    ------
    ProjectError, DesignError, StockError
        With the file, the key and the mend.
    """
    source = read_toml(path)
    document = validate(_DesignFile, source)
    kind = family(document.family, where=str(path))
    values = _read(document.dimensions, kind, source, "dimensions")
    socket = connector(document.socket, where=str(path))
    if document.socket_cable:
        socket = coax_end(cable(document.socket_cable, where=str(path)))
    plan = Plan(
        document.key, document.title, _read(document.held, kind, source, "held"),
        {role: _conductor_of(table) for role, table in document.metal.items()}, socket, document.horizontal,
        tuple(document.remarks), None if document.cover is None else Pipe(**document.cover.model_dump()),
    )  # fmt: skip
    kind.check(values)
    design = Design(document.family, plan, values, document.owned)
    try:
        design.structure()
    except KeyError as role:
        raise source.error(f"lacks the metal {role}", ("metal",), "take the file as the program wrote it") from None
    return StoredDesign(design, tuple(document.bands))


def _cable_of(socket: Connector) -> str:
    return next((row.key for row in cables() if socket.bare and coax_end(row) == socket), "")


def _written(values: Values, kind: Family) -> dict[str, Any]:
    """Values with their units; what is no dimension of the family stays a number in SI."""
    kinds = {parameter.key: parameter.kind for parameter in kind.parameters}
    out: dict[str, Any] = {}
    for key, value in values.items():
        if key not in kinds:
            out[key] = float(value)
        else:
            out[key] = int(value) if kinds[key] == "count" else exact_text(float(value), kinds[key])
    return out


def _read(values: dict[str, Any], kind: Family, source: TomlText, table: str) -> Values:
    kinds = {parameter.key: parameter.kind for parameter in kind.parameters}
    out: Values = {}
    for key, value in values.items():
        plain = isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e9
        if plain and kinds.get(key, "count") == "count":
            out[key] = float(value)
        elif isinstance(value, str) and kinds.get(key, "count") != "count":
            out[key] = float(parse_quantity(value, kinds[key], where=f"{source.path}, {table}.{key}"))
        else:
            raise source.error("is no value of this family", (table, key), "take the file as the program wrote it")
    return out


def _conductor_table(role: Conductor) -> dict[str, Any]:
    table: dict[str, Any] = {
        "kind": role.kind, "material": role.material, "metal": role.metal.name, "conductivity": role.metal.conductivity,
        "relative_permeability": role.metal.relative_permeability, "source": role.metal.source,
        "diameter": exact_text(role.diameter, "length"), "thickness": exact_text(role.thickness, "length"), "stock": role.stock,
    }  # fmt: skip
    if role.mesh is not None:
        table["mesh"] = {key: exact_text(value, "length") for key, value in vars(role.mesh).items()}
    if role.insulation is not None:
        table["insulation"] = vars(role.insulation) | {
            key: exact_text(getattr(role.insulation, key), "length") for key in ("inner_radius", "outer_radius")
        }
    return table


def _conductor_of(table: _Conductor) -> Conductor:
    metal = Metal(table.metal, table.conductivity, table.relative_permeability, table.source)
    mesh = None if table.mesh is None else Mesh(**table.mesh.model_dump())
    shell = None if table.insulation is None else Coating(**table.insulation.model_dump())
    return Conductor(table.kind, table.material, metal, table.diameter, table.thickness, mesh, table.stock, shell)
