"""Values as JSON and back: numbers rounded by the unit that their name or their figure carries.

Conventions: a value's fields are the document's keys; a rate is in Hz there as well. There is no NaN and no
infinity: one that got this far is an error of ours and raises.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any, TypeVar

import msgspec

Json = dict[str, Any]
Value = TypeVar("Value")

DIGITS: Mapping[str, int] = {"s": 7, "seconds": 7}
OTHER_DIGITS = 5


def json_of(document: Json | list[Json]) -> str:
    """Write JSON text, ending in a line break; no NaN and no infinity can be in it."""
    return json.dumps(document, allow_nan=False, ensure_ascii=False, indent=1) + "\n"


def plain(value: object, digits: Mapping[str, int] = DIGITS) -> Json:
    """Turn values into dicts, lists and numbers.

    Parameters
    ----------
    value
        A dataclass or a mapping. In it lie dataclasses, mappings, sequences, numbers (an array's, too), days
        and text.
    digits
        Decimals by unit: of a number's key (``time_s``), of its last part (``s``), or of the ``unit`` that
        stands beside it. What lies inside a key with a unit goes by it, until another is met.
    """
    document = msgspec.to_builtins(value, enc_hook=_number_of_an_array)
    rounded: Json = _rounded(document, digits, OTHER_DIGITS)
    return rounded


def _number_of_an_array(value: Any) -> object:  # noqa: ANN401 - any value
    return value.item()


def _rounded(value: Any, digits: Mapping[str, int], places: int) -> Any:  # noqa: ANN401 - any JSON
    if isinstance(value, float):
        return round(value, places) + 0.0 if math.isfinite(value) else value  # -0.0 becomes 0.0
    if isinstance(value, (list, tuple)):
        return [_rounded(each, digits, places) for each in value]
    if not isinstance(value, dict):
        return value
    places = digits.get(value["unit"], OTHER_DIGITS) if "unit" in value else places
    return {
        "rate" if key == "rate_hz" else key: _rounded(inside, digits, _places(key, digits, places))
        for key, inside in value.items()
    }


def _places(key: str, digits: Mapping[str, int], otherwise: int) -> int:
    return digits.get(key, digits.get(key.rsplit("_", 1)[-1], otherwise))


def loaded(text: str | bytes) -> Any:  # noqa: ANN401 - any JSON
    """Read JSON text.

    Raises
    ------
    ValueError
        Where it is not JSON, or lies deeper than anything of ours.
    """
    try:
        return msgspec.json.decode(text)
    except RecursionError as error:
        raise ValueError("lists within lists without end") from error


def value_of(found: object, kind: type[Value]) -> Value:
    """Make a value of what JSON is made of; keys that it does not have are passed over.

    Raises
    ------
    ValueError
        Naming what must be, what was got, and where.
    """
    return msgspec.convert(found, kind)
