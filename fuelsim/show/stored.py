"""Results as data of JSON and back: dataclasses field by field, arrays with their shape and type.

Nothing in a file is executed. A class is named by its module in fuelsim and its name, and only dataclasses, named
tuples and enumerations are made again, each from exactly its own fields; laws and measures are taken by name. An object
that stands in several places is written once and referred to by its number elsewhere.
"""

from __future__ import annotations

import dataclasses
import math
import pkgutil
from collections.abc import Callable, Mapping
from enum import Enum
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import TypeAlias, cast

import numpy as np

from fuelsim.errors import InputError
from fuelsim.finding import FindingList
from fuelsim.laws.link import LinkLaw
from fuelsim.named_tables import NamedValues
from fuelsim.network.network import Network
from fuelsim.network.state import ByName
from fuelsim.studies.measures import Measure, measure_named

__all__ = ["Decoder", "Encoder", "Node"]

Node: TypeAlias = "bool | int | float | str | list[Node] | dict[str, Node] | None"
"""A value of JSON."""

_NOT_MADE = ("fuelsim.__main__", "fuelsim.cli")
"""Modules of which nothing is a result."""


class Encoder:
    """Turns one result into data of JSON; each object that it meets twice is written once.

    Examples
    --------
    >>> Encoder().encode(np.array([1.0, np.nan]))
    {'kind': 'array', 'type': 'float64', 'shape': [2], 'values': [1.0, None]}
    """

    def __init__(self) -> None:
        self._nodes: dict[int, dict[str, Node]] = {}
        self._kept: list[object] = []
        self._numbers = 0

    def encode(self, value: object) -> Node:
        """Return a value as data of JSON.

        Parameters
        ----------
        value : object
            Number, text, array, container, or an object of a class of fuelsim.

        Raises
        ------
        InputError
            For anything else, with its class.
        """
        if value is None or type(value) in (bool, int, str):
            return cast("Node", value)
        if type(value) is float:
            return value if math.isfinite(value) else {"kind": "float", "value": str(value)}
        if isinstance(value, list) and type(value) is list:
            return [self.encode(item) for item in value]
        if id(value) in self._nodes:
            node = self._nodes[id(value)]
            if "number" not in node:
                self._numbers += 1
                node["number"] = self._numbers
            return {"kind": "again", "of": node["number"]}
        node = {}
        self._nodes[id(value)] = node
        self._kept.append(value)  # so that no other object gets its id
        node.update(self._new(value))
        return node

    def _new(self, value: object) -> dict[str, Node]:
        """Return an object that was not met before."""
        kind = type(value)
        if isinstance(value, Enum):
            return {"kind": "member", "class": _name_of(kind), "value": value.name}
        if isinstance(value, (np.ndarray, np.generic)):
            return self._array(value)
        if isinstance(value, Measure):
            return {"kind": "measure", "name": value.name}
        if isinstance(value, LinkLaw):
            return {"kind": "law", "name": _name_of_law(value)}
        if isinstance(value, Network):
            return {"kind": "mapping", "values": {name: self.encode(getattr(value, name)) for name in _OF_NETWORK}}
        if isinstance(value, ByName):
            return {
                "kind": "by name",
                "what": value.what,
                "values": self._values(value),
                "also": dict(value.also_named),
            }
        if isinstance(value, NamedValues):
            return {"kind": "named", "class": _name_of(kind), "values": self._values(value)}
        if isinstance(value, Mapping):
            return {"kind": "mapping", "values": self._values(value)}
        if isinstance(value, FindingList):
            return {"kind": "findings", "values": [self.encode(item) for item in value]}
        if isinstance(value, tuple):
            if hasattr(value, "_fields"):
                named = zip(cast("tuple[str, ...]", value._fields), value, strict=True)
                fields = {f".{name}": self.encode(item) for name, item in named}
                return {"kind": "tuple", "class": _name_of(kind), **fields}
            return {"kind": "tuple", "values": [self.encode(item) for item in value]}
        if dataclasses.is_dataclass(value) and kind.__module__.startswith("fuelsim."):
            names = [item.name for item in dataclasses.fields(value)]
            return {
                "kind": "object",
                "class": _name_of(kind),
                **{f".{name}": self.encode(getattr(value, name)) for name in names},
            }
        raise InputError("cannot be saved", given=kind.__name__, accepted="numbers, text, and results of fuelsim")

    def _values(self, mapping: Mapping[str, object]) -> dict[str, Node]:
        if not all(type(key) is str for key in mapping):
            raise InputError("cannot be saved", given="a mapping", accepted="names that are text")
        return {key: self.encode(item) for key, item in mapping.items()}

    def _array(self, value: np.ndarray | np.generic) -> dict[str, Node]:
        array = np.asarray(value)
        flat = cast("list[Node]", array.reshape(-1).tolist())
        node: dict[str, Node] = {
            "kind": "array" if isinstance(value, np.ndarray) else "scalar",
            "type": "object" if array.dtype.kind == "O" else str(array.dtype),
            "shape": list(array.shape),
        }
        if array.dtype.kind == "f" and not np.isfinite(array).all():
            flat = [item if math.isfinite(item) else _special(item) for item in cast("list[float]", flat)]
        elif array.dtype.kind == "O":
            flat = self._words(node, flat)
        elif array.dtype.kind not in "fiubU":
            raise InputError("cannot be saved", given=f"an array of {array.dtype}", accepted="numbers or text")
        return {**node, "values": flat}

    def _words(self, node: dict[str, Node], items: list[Node]) -> list[Node]:
        """Return the items of an array of texts; members of one enumeration by their names alone."""
        kinds = {type(item) for item in items}
        if len(kinds) == 1 and issubclass(kind := kinds.pop(), Enum):
            node["members"] = _name_of(kind)
            return [item.name for item in cast("list[Enum]", items)]
        return [self.encode(item) for item in items]


def _special(value: float) -> Node:
    """Return what stands for a number that JSON does not have."""
    return None if math.isnan(value) else str(value)


class Decoder:
    """Makes a result again from data of JSON.

    Examples
    --------
    >>> Decoder().decode({"kind": "array", "type": "float64", "shape": [2], "values": [1.0, None]})
    array([ 1., nan])
    """

    def __init__(self) -> None:
        self._numbered: dict[object, object] = {}

    def decode(self, node: Node) -> object:
        """Return the value that a node stands for.

        Parameters
        ----------
        node : Node
            As `Encoder.encode` returns it.

        Raises
        ------
        InputError
            For a node that is none of them, or a class that has other fields.
        """
        if isinstance(node, list):
            return [self.decode(item) for item in node]
        if not isinstance(node, dict):
            return node
        kind = node.get("kind")
        if kind == "again":
            return self._numbered[node["of"]]
        make = self._makers.get(kind) if isinstance(kind, str) else None
        if make is None:
            raise InputError("no kind of value that a result holds", given=kind, accepted=", ".join(self._makers))
        value = make(self, node)
        if "number" in node:
            self._numbered[node["number"]] = value
        return value

    def _values(self, node: dict[str, Node]) -> dict[str, object]:
        return {key: self.decode(item) for key, item in cast("dict[str, Node]", node["values"]).items()}

    def _array(self, node: dict[str, Node]) -> object:
        dtype = np.dtype(cast("str", node["type"]))
        if dtype.kind not in "fiubUO":
            raise InputError("no type of an array that a result holds", given=str(node["type"]))
        values, shape = cast("list[Node]", node["values"]), cast("list[int]", node["shape"])
        if dtype.kind == "f":
            # NumPy reads None as a missing number, and "inf" as it is written.
            return np.array(values, dtype=object).astype(dtype).reshape(shape)
        if dtype.kind != "O":
            return np.array(values, dtype=dtype).reshape(shape)
        array = np.empty(len(values), dtype=object)
        if "members" in node:
            members = _class_named(cast("str", node["members"]), _is_enum)
            array[:] = [cast("type[Enum]", members)[cast("str", item)] for item in values]
        else:
            for number, item in enumerate(values):
                array[number] = self.decode(item)
        return array.reshape(shape)

    def _scalar(self, node: dict[str, Node]) -> object:
        return cast("np.ndarray", self._array(node))[()]

    def _object(self, node: dict[str, Node]) -> object:
        kind = _class_named(cast("str", node["class"]), dataclasses.is_dataclass)
        values = self._fields(node, {item.name for item in dataclasses.fields(kind)})
        made: object = object.__new__(kind)
        for name, value in values.items():
            object.__setattr__(made, name, value)
        return made

    def _tuple(self, node: dict[str, Node]) -> object:
        if "class" not in node:
            return tuple(self.decode(item) for item in cast("list[Node]", node["values"]))
        kind = _class_named(cast("str", node["class"]), _is_named_tuple)
        fields = cast("tuple[str, ...]", getattr(kind, "_fields", ()))
        values = self._fields(node, set(fields))
        return cast("Callable[..., object]", kind)(*(values[name] for name in fields))

    def _fields(self, node: dict[str, Node], wanted: set[str]) -> dict[str, object]:
        given = {name.removeprefix(".") for name in node if name.startswith(".")}
        if given != wanted:
            odd = ", ".join(sorted(given ^ wanted))
            raise InputError(f"'{node['class']}' has other fields in this version of fuelsim ({odd})")
        return {name.removeprefix("."): self.decode(item) for name, item in node.items() if name.startswith(".")}

    def _by_name(self, node: dict[str, Node]) -> object:
        values = self._values(node)
        also = {str(key): str(item) for key, item in cast("dict[str, Node]", node["also"]).items()}
        return ByName.of_values(str(node["what"]), values, also)

    def _named(self, node: dict[str, Node]) -> object:
        kind = _class_named(cast("str", node["class"]), lambda kind: issubclass(kind, NamedValues))
        made: NamedValues[object] = object.__new__(kind)
        NamedValues.__init__(made, self._values(node))
        return made

    def _float(self, node: dict[str, Node]) -> object:
        return float(str(node["value"]))

    def _member(self, node: dict[str, Node]) -> object:
        return cast("type[Enum]", _class_named(cast("str", node["class"]), _is_enum))[cast("str", node["value"])]

    def _findings(self, node: dict[str, Node]) -> object:
        return FindingList(self.decode(item) for item in cast("list[Node]", node["values"]))  # type: ignore[misc]

    def _law(self, node: dict[str, Node]) -> object:
        return _law_named(cast("str", node["name"]))

    def _measure(self, node: dict[str, Node]) -> object:
        return measure_named(cast("str", node["name"]))

    _makers: Mapping[str, Callable[[Decoder, dict[str, Node]], object]] = {
        "array": _array,
        "by name": _by_name,
        "findings": _findings,
        "float": _float,
        "law": _law,
        "mapping": _values,
        "measure": _measure,
        "member": _member,
        "named": _named,
        "object": _object,
        "scalar": _scalar,
        "tuple": _tuple,
    }


_OF_NETWORK = ("atmospheric_pressure", "nodes", "reservoirs", "links", "draws")
"""Attributes of a network that say what was solved."""


def _name_of(kind: type) -> str:
    return f"{kind.__module__.removeprefix('fuelsim.')}.{kind.__qualname__}"


@cache
def _modules() -> frozenset[str]:
    """Return the modules of fuelsim whose classes results are made of, without importing them."""
    found = pkgutil.walk_packages([str(Path(__file__).parent.parent)], "fuelsim.")
    return frozenset(item.name for item in found if not item.name.startswith(_NOT_MADE))


def _class_named(name: str, wanted: Callable[[type], bool]) -> type:
    """Return a class of fuelsim by its module and name, if it is of a kind that results are made of."""
    module, _, own = f"fuelsim.{name}".rpartition(".")
    kind = getattr(import_module(module), own, None) if module in _modules() else None
    if not isinstance(kind, type) or kind.__module__ != module or not wanted(kind):
        raise InputError("no class of results in this version of fuelsim", given=name)
    return kind


def _is_enum(kind: type) -> bool:
    return issubclass(kind, Enum)


def _is_named_tuple(kind: type) -> bool:
    return issubclass(kind, tuple) and hasattr(kind, "_fields")


@cache
def _laws() -> dict[str, LinkLaw]:
    modules = [import_module(name) for name in sorted(_modules()) if name.startswith("fuelsim.laws.")]
    return {
        f"{module.__name__.removeprefix('fuelsim.laws.')}.{name}": law
        for module in modules
        for name, law in vars(module).items()
        if isinstance(law, LinkLaw)
    }


def _name_of_law(law: LinkLaw) -> str:
    return next(name for name, other in _laws().items() if other is law)


def _law_named(name: str) -> LinkLaw:
    law = _laws().get(name)
    if law is None:
        raise InputError("no law of this name in this version of fuelsim", given=name)
    return law
