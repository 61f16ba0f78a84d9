"""Records to bytes and back, for pipe, journal and cache: JSON, then the arrays' raw numbers.

Nothing that is read can run: fields are filled by the records' own type hints, whatever does not
fit is refused, and only arrays of plain numbers are made. A file that has taken over its worker
can therefore make results wrong while that worker lives, and do nothing else to the run.
"""

import functools
import json
import struct
import types
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

import numpy as np
from evenfold.core.allowances import AllowanceUse
from evenfold.core.errors import EvenfoldError
from evenfold.core.figure import FloatArray, IntArray
from evenfold.core.layers import BoolArray
from evenfold.core.portrait import Portrait
from evenfold.core.settings import Settings
from evenfold.core.size import Size

from .soundness import sound

Read = Callable[[Any, memoryview], Any]
Record = TypeVar("Record")
NAMES = {"AllowanceUse": AllowanceUse, "Portrait": Portrait, "Settings": Settings, "Size": Size}
"""Records that others name without importing them."""
HEAD = struct.Struct("<I")
NUMBERS = frozenset({"<f8", "<f4", "<i8", "<i4", "<i2", "|i1", "<u8", "<u4", "<u2", "|u1", "|b1"})
ALIGNED = 8
FEW = 4
"""Most dimensions of an array; no record has more than two."""


class PackError(EvenfoldError):
    """The bytes are not what pack makes."""


def pack(record: object) -> bytes:
    """The bytes of a frozen record, whatever records, tuples, texts, numbers and arrays are in it."""
    buffers: list[bytes] = []
    text = json.dumps(_plain(record, buffers, [0]), separators=(",", ":")).encode("ascii")
    return b"".join([HEAD.pack(len(text)), text, *buffers])


def _plain(value: object, buffers: list[bytes], size: list[int]) -> object:
    if value is None or isinstance(value, str | bool | int | float):
        return value
    if isinstance(value, np.ndarray):
        return _plain_array(value, buffers, size)
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, Mapping):
        return {str(key): _plain(one, buffers, size) for key, one in value.items()}
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, tuple | list):
        return [_plain(one, buffers, size) for one in value]
    return [_plain(getattr(value, name), buffers, size) for name in _fields(type(value))]


def _plain_array(array: np.ndarray, buffers: list[bytes], size: list[int]) -> object:
    solid = np.ascontiguousarray(array, array.dtype.newbyteorder("<"))
    data = solid.tobytes()
    data += bytes(-len(data) % ALIGNED)
    place = size[0]
    buffers.append(data)
    size[0] += len(data)
    return [solid.dtype.str, list(array.shape), place]


def unpack(kind: type[Record], data: bytes | memoryview) -> Record:
    """The record of that kind in the bytes. Raises PackError where they hold anything else."""
    view, reader = memoryview(data), _reader(kind)
    try:
        (length,) = HEAD.unpack_from(view)
        if HEAD.size + length > len(view):
            raise PackError("The record is cut short.")
        plain = json.loads(bytes(view[HEAD.size : HEAD.size + length]))
        made: Record = reader(plain, view[HEAD.size + length :])
    except PackError:
        raise
    except (ValueError, TypeError, KeyError, IndexError, OverflowError, RecursionError, struct.error, EvenfoldError) as error:
        raise PackError(f"The record is damaged: {error}.") from error
    return made


@functools.cache
def _fields(kind: type) -> tuple[str, ...]:
    if not is_dataclass(kind):
        raise TypeError(f"{kind.__name__} is no record.")
    return tuple(one.name for one in fields(kind))


@functools.cache
def _reader(hint: Any) -> Read:
    """What makes a value of a type hint from plain data and the arrays' bytes."""
    if is_dataclass(hint):
        return _record_reader(hint)  # type: ignore[arg-type]
    if hint in _SIMPLE:
        return _SIMPLE[hint]
    origin, inner = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        return _choice_reader(inner)
    if origin is tuple:
        return _tuple_reader(inner)
    if origin is frozenset:
        one = _reader(inner[0])
        return lambda value, data: frozenset(one(each, data) for each in _list(value))
    if origin in (dict, Mapping):
        of = _reader(inner[1])
        return lambda value, data: {key: of(each, data) for key, each in _mapping(value).items()}
    raise TypeError(f"{hint} cannot be read back.")


def _record_reader(kind: type) -> Read:
    names = _fields(kind)
    hints = get_type_hints(kind, localns=NAMES)
    readers = tuple(_reader(hints[name]) for name in names)

    def read(value: Any, data: memoryview) -> Any:
        given = _list(value)
        if len(given) != len(names):
            raise PackError(f"{kind.__name__} has {len(names)} fields, not {len(given)}.")
        made = kind(*(one(each, data) for one, each in zip(readers, given, strict=True)))
        if not sound(made):
            raise PackError(f"The parts of a {kind.__name__} do not fit together.")
        return made

    return read


def _choice_reader(kinds: tuple[Any, ...]) -> Read:
    """For X | None; no record has any other choice."""
    (kind,) = (one for one in kinds if one is not types.NoneType)
    of = _reader(kind)
    return lambda value, data: None if value is None else of(value, data)


def _tuple_reader(inner: tuple[Any, ...]) -> Read:
    if len(inner) == 2 and inner[1] is Ellipsis:
        of = _reader(inner[0])
        return lambda value, data: tuple(of(each, data) for each in _list(value))
    parts = tuple(_reader(one) for one in inner)
    return lambda value, data: tuple(of(each, data) for of, each in zip(parts, _list(value), strict=True))


def _array(kind: str, value: Any, data: memoryview) -> np.ndarray:
    name, shape, place = _list(value)
    if name not in NUMBERS or np.dtype(name).kind not in _KINDS[kind] or len(_list(shape)) > FEW:
        raise PackError(f"An array of {name!r} does not belong there.")
    if not all(type(one) is int and 0 <= one < 1 << 40 for one in (*shape, place)):
        raise PackError("An array has no sizes.")
    dtype, count = np.dtype(name), 1
    for one in shape:
        count *= one
    if place % ALIGNED or place + count * dtype.itemsize > len(data):
        raise PackError("An array lies outside the record.")
    return np.frombuffer(data, dtype, count, place).reshape(shape) if count else np.zeros(shape, dtype)


_KINDS = {"f": "f", "i": "iu", "b": "b"}


def _exactly(kind: type) -> Read:
    def read(value: Any, _: memoryview) -> Any:
        if type(value) is not kind:
            raise PackError(f"{kind.__name__} expected, not {type(value).__name__}.")
        return value

    return read


def _float(value: Any, _: memoryview) -> float:
    if type(value) not in (int, float):
        raise PackError(f"A number expected, not {type(value).__name__}.")
    return float(value)


def _list(value: Any) -> list[Any]:
    if type(value) is not list:
        raise PackError(f"A list expected, not {type(value).__name__}.")
    return value  # type: ignore[no-any-return]


def _mapping(value: Any) -> dict[str, Any]:
    if type(value) is not dict:
        raise PackError(f"Names expected, not {type(value).__name__}.")
    return value  # type: ignore[no-any-return]


_SIMPLE: dict[Any, Read] = {
    str: _exactly(str), int: _exactly(int), bool: _exactly(bool), float: _float,
    FloatArray: functools.partial(_array, "f"), IntArray: functools.partial(_array, "i"),
    BoolArray: functools.partial(_array, "b"),
}
