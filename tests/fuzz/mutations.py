"""Mutations of JSON values, of text and of bytes, by a random number generator with a seed."""

from __future__ import annotations

import copy
import random
from typing import Any

ODD = (
    None, True, False, 0, -1, 1, 2**63, -0.0, 1e-300, 5e-324, 1e300, -1e300, 1e-9, 1e9, 0.5, 3, "", "x", " ", "A",
    "P1", "\u202eabc", "<img src=x>", "x" * 5000, [], {}, [[]], [1.0], {"a": 1}, [None] * 3, "shorted", "top",
)  # fmt: skip


def mutated(raw: Any, dice: random.Random) -> Any:
    """A copy of a JSON value with one to four things wrong."""
    changed = copy.deepcopy(raw)
    for _ in range(dice.choice((1, 1, 1, 2, 4))):
        _mutate(changed, dice)
    return changed


def _mutate(root: Any, dice: random.Random) -> None:
    places = list(_places(root))
    holder, key = dice.choice(places)
    value = holder[key]
    match dice.randrange(7):
        case 0:
            holder[key] = copy.deepcopy(dice.choice(ODD))
        case 1 if isinstance(value, int | float) and not isinstance(value, bool):
            holder[key] = value * dice.choice((-1, 0, 0.5, 2, 10, 1e-3, 1e3, 1e-9, 1e9)) + dice.choice(
                (0, 0, 1)
            )
        case 2 if isinstance(value, list):
            holder[key] = value * dice.choice((0, 2, 3, 50, 500))
        case 3 if isinstance(holder, dict):
            del holder[key]
        case 4 if isinstance(holder, dict):
            holder[dice.choice(("", "x", "type", "value", "y" * 300))] = copy.deepcopy(dice.choice(ODD))
        case 5:
            other, at = dice.choice(places)
            holder[key] = copy.deepcopy(other[at])
        case _ if isinstance(value, str):
            holder[key] = damaged(value.encode(), dice).decode("utf-8", "replace")


def _places(root: Any) -> Any:
    """Every (holder, key) of a JSON value."""
    keys = list(root) if isinstance(root, dict) else range(len(root))
    for key in keys:
        yield root, key
        if isinstance(root[key], dict | list):
            yield from _places(root[key])


def damaged(data: bytes, dice: random.Random) -> bytes:
    """Bytes with some changed, left out, put in, repeated, or cut off."""
    out = bytearray(data)
    for _ in range(dice.choice((1, 1, 2, 5, 20))):
        at = dice.randrange(len(out) + 1)
        end = min(at + dice.choice((1, 1, 3, 30)), len(out))
        match dice.randrange(6):
            case 0:
                out[at:end] = dice.randbytes(end - at)
            case 1:
                del out[at:end]
            case 2:
                out[at:at] = dice.choice(
                    (b"\0", b"\n", b'"', b"{", b"]", b"-", b"9" * 12, b"1e400", b"<", b"&a;", b"\xff")
                )
            case 3:
                out[at:at] = out[at:end] * dice.choice((1, 5, 100))
            case 4 if dice.random() < 0.2:
                del out[at:]
            case _:
                digits = [i for i, byte in enumerate(out) if 48 <= byte <= 57]
                if digits:
                    out[dice.choice(digits)] = 48 + dice.randrange(10)
    return bytes(out)
