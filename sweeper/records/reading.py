"""Frozen values out of plain data, held against their own declarations."""

from __future__ import annotations

import dataclasses
import types
import typing
from collections.abc import Hashable, Mapping
from functools import cache
from typing import Any, TypeVar

from sweeper.quantities.measurements import LARGEST

T = TypeVar("T")


class Unreadable(ValueError):
    """The data does not make the value, in words. unknown: it holds something that is not known here."""

    def __init__(self, what: str, unknown: bool = False) -> None:
        super().__init__(what)
        self.unknown = unknown


def read(kind: type[T], data: object, place: str = "") -> T:
    """The value of a dataclass whose fields are texts, numbers, switches, tuples, mappings and such dataclasses.

    Fields with a default may be missing. place: where `data` stands, for messages. Raises Unreadable.
    """
    if not isinstance(data, Mapping):
        raise Unreadable(f"{place or 'it'} is {_kind(data)}, not a mapping")
    known = _fields(typing.cast(Hashable, kind))
    for name in data:
        if name not in known:
            raise Unreadable(f"{_at(place, str(name))} is not known to this version", unknown=True)
    found = {}
    for name, (wanted, needed) in known.items():
        if name in data:
            found[name] = _value(wanted, data[name], _at(place, name))
        elif needed:
            raise Unreadable(f"{_at(place, name)} is missing")
    return kind(**found)


@cache
def _fields(kind: Hashable) -> dict[str, tuple[Any, bool]]:
    """Field -> what it is declared as, and whether it must be there."""
    declared = typing.get_type_hints(kind)
    return {field.name: (declared[field.name], field.default is dataclasses.MISSING)
            for field in dataclasses.fields(typing.cast(Any, kind))}  # fmt: skip


def _value(wanted: Any, value: object, place: str) -> Any:
    inside = typing.get_args(wanted)
    if dataclasses.is_dataclass(wanted):
        return read(typing.cast(type, wanted), value, place)
    if typing.get_origin(wanted) is tuple:
        if not isinstance(value, list | tuple):
            raise Unreadable(f"{place} is {_kind(value)}, not a list")
        return tuple(_value(inside[0], each, f"{place}[{n}]") for n, each in enumerate(value))
    if inside:  # Mapping[str, ...]
        if not isinstance(value, Mapping):
            raise Unreadable(f"{place} is {_kind(value)}, not a mapping")
        return {str(key): _value(inside[1], each, _at(place, str(key))) for key, each in value.items()}
    return _single(wanted, value, place)


def _single(wanted: type, value: object, place: str) -> object:
    if wanted is object:
        return value
    if wanted is float and isinstance(value, int | float) and type(value) is not bool and abs(value) < LARGEST:
        return float(value)
    if type(value) is not wanted or wanted is float:
        raise Unreadable(f"{place} is {_kind(value)}, not {_NAMES[wanted]}")
    return value


_NAMES: dict[type, str] = {str: "a text", int: "a whole number", float: "a number", bool: "true or false"}


def _kind(value: object) -> str:
    if isinstance(value, float) and not abs(value) < LARGEST:
        return repr(value)
    kinds: dict[type, str] = {**_NAMES, types.NoneType: "null", list: "a list", dict: "a mapping"}
    return kinds.get(type(value), "something else")


def _at(place: str, name: str) -> str:
    return f"{place}.{name}" if place else name
