"""The shape of a person's files as pydantic models: strict, nothing extra, quantities as text with a unit."""

from __future__ import annotations

import difflib
from typing import Annotated, Any, TypeVar

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator
from pydantic_core import PydanticCustomError

from aerialwright.base.errors import ProjectError, QuantityError, printable
from aerialwright.base.units import parse_quantity
from aerialwright.project.text import Location, TomlText

MOST_ENTRIES = 2000


class Table(BaseModel):
    """A table of a file: strict types, unknown keys refused with the nearest known one."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)

    @model_validator(mode="before")
    @classmethod
    def _only_known_keys(cls, data: Any) -> Any:
        if isinstance(data, dict):
            known = list(cls.model_fields)
            for key in data:
                if key not in known:
                    near = difflib.get_close_matches(str(key)[:60], known, n=1)
                    mend = f"did you mean '{near[0]}'?" if near else f"known keys: {', '.join(known)}"
                    raise PydanticCustomError(
                        "key", "{what}", {"what": f"unknown key '{key[:60]}'", "mend": mend, "key": key}
                    )
        return data


def _quantity(
    kind: str, *, positive: bool = False, signed: bool = False, zero_is_plain: bool = False
) -> BeforeValidator:
    def read(value: object) -> float:
        if zero_is_plain and isinstance(value, (int, float)) and not isinstance(value, bool) and not value:
            return 0.0
        try:
            return parse_quantity(value, kind, positive=positive, signed=signed)
        except QuantityError as error:
            raise PydanticCustomError("quantity", "{what}", {"what": error.what, "mend": error.mend}) from None

    return BeforeValidator(read)


Length = Annotated[float, _quantity("length", positive=True)]
LengthOrZero = Annotated[float, _quantity("length")]
#: A coordinate: either sign; a plain 0 needs no unit.
Coordinate = Annotated[float, _quantity("length", signed=True, zero_is_plain=True)]
Frequency = Annotated[float, _quantity("frequency")]
Angle = Annotated[float, _quantity("angle")]
Power = Annotated[float, _quantity("power")]
Decibel = Annotated[float, _quantity("decibel")]
Gain = Annotated[float, _quantity("gain", signed=True)]
Impedance = Annotated[float, _quantity("impedance", positive=True)]
Inductance = Annotated[float, _quantity("inductance", positive=True)]
Capacitance = Annotated[float, _quantity("capacitance", positive=True)]
ImpedanceOrZero = Annotated[float, _quantity("impedance")]
Ratio = Annotated[float, _quantity("ratio")]


def _printable(text: str) -> str:
    """Text that is shown on terminals and pages later: no control or direction-changing characters."""
    for character in text:
        if not character.isprintable() and character not in "\n\t":
            what = f"holds a character that cannot be printed (U+{ord(character):04X})"
            raise PydanticCustomError("text", "{what}", {"what": what, "mend": "retype the text"})
    return text


Word = Annotated[str, Field(max_length=200), AfterValidator(_printable)]
Prose = Annotated[str, Field(max_length=4000), AfterValidator(_printable)]

Model = TypeVar("Model", bound=BaseModel)


def validate(model: type[Model], source: TomlText) -> Model:
    """``source`` as ``model``; the first fault as :class:`ProjectError` with file, line, key and remedy."""
    try:
        return model.model_validate(source.data)
    except ValidationError as error:
        raise _first_fault(error, source) from None
    except RecursionError:
        raise source.error("tables are nested too deeply", (), "use plain keys and [tables]") from None


def _first_fault(error: ValidationError, source: TomlText) -> ProjectError:
    faults = error.errors(include_url=False, include_input=True)
    located = []
    for fault in faults:
        location: Location = tuple(fault["loc"])
        context = fault.get("ctx", {})
        if fault["type"] == "key":
            location = (*location, str(context["key"]))
        located.append((source.line_of(location) or 0, location, fault))
    _, location, fault = min(located, key=lambda item: item[0])
    what, mend = _explain(fault, location)
    if len(faults) > 1:
        mend += f" (and {len(faults) - 1} more)"
    return source.error(what, location, mend)


def _explain(fault: Any, location: Location) -> tuple[str, str]:
    kind, context = fault["type"], fault.get("ctx", {})
    if "mend" in context:
        return str(context["what"]), str(context["mend"])
    if kind == "missing":
        return "is missing", f"add {location[-1]} = ..."
    expected = {
        "string_type": ("text", 'put it in quotes: "..."'),
        "int_type": ("a whole number", "write it without quotes, like 4"),
        "int_from_float": ("a whole number", "write it without a decimal point"),
        "float_type": ("a number", "write it without quotes"),
        "list_type": ("a list", "write [ ..., ... ] or [[...]]"),
        "tuple_type": ("a list", "write [ ..., ... ]"),
        "model_type": ("a table", "write [table] and its keys below"),
        "dict_type": ("a table", "write [table] and its keys below"),
        "bool_type": ("true or false", "write true or false"),
        "date_type": ("a day", "write it without quotes, like 2026-11-02"),
    }.get(kind)
    if expected is not None:
        return f"{_seen(fault.get('input'))} where {expected[0]} is expected", expected[1]
    if kind in ("too_long", "string_too_long"):
        return "is too long", f"keep it to {context.get('max_length')}"
    if kind in ("too_short", "tuple_too_short"):
        return "has too few entries", f"give {context.get('min_length')} or more"
    return printable(str(fault["msg"]))[:160], "see the documentation of this file"


def _seen(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 40 else f"{text[:37]}..."
