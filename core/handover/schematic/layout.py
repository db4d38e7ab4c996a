"""Where the parts of a schematic stand: patches left, the connector, then what hangs between the leads.

Parts in parallel are columns between the two leads, parts in series stand on each other; what leads into an
amplifier lies along the upper lead.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from core.circuit.network import Part
from core.handover.schematic.picture import TEXT
from core.handover.schematic.sheet import Laid, Sheet
from core.handover.schematic.symbols import BOX_HIGH, BOX_WIDE, SMALL_HIGH, SMALL_WIDE
from core.handover.schematic.tree import Parallel, Series, Simulated, Tree

PART_HIGH, PART_WIDE = 2.8, 3.7
PLATE_HIGH, PLATE_WIDE, FACE_HIGH = 2.8, 2.1, 1.0
LEAD = 2.8
"""From the connector to the first column: room for the volts."""
NESTED = 0.8
"""Added to the height of parts in parallel that stand among others in series."""
AHEAD = 3.4
"""Length of a part along the upper lead."""
AMP_IN, AMP_OUT, AMP_LOW, AMP_HIGH, AMP_WIDE = 1.9, 1.3, 3.7, 1.75, 9.6
LINK, CHAIN_LOW, CHAIN_WIDE = 2.6, 3.6, 14.6
"""Length of a part in the chain of a gyrator, how far its lower amplifier reaches, its width."""


@dataclass(frozen=True)
class Plate:
    """A ceramic: its patch, its face where a patch has two, and whether its dot lies towards the positive lead."""

    patch: str
    face: str
    dot_up: bool


@dataclass(frozen=True)
class Shape:
    """What decides where everything stands; values of parts do not."""

    plates: tuple[Plate, ...]
    in_series: bool
    circuit: Tree
    connector: str = "J1"
    bare: str = "leads open"
    """What stands at leads that nothing hangs on."""

    @property
    def columns(self) -> tuple[Tree, ...]:
        parts = self.circuit.parts if isinstance(self.circuit, Parallel) else (self.circuit,)
        return tuple(sorted(parts, key=_has_amplifier))


@lru_cache(maxsize=64)
def laid_out(shape: Shape) -> Laid:
    """The drawing of a shape, its values left open."""
    sheet = Sheet()
    high = max([_plates_high(shape), *(_size(one)[1] for one in shape.columns)])
    edge = _plates(sheet, shape, high)
    terminal = edge + 0.75
    rails = (high, 0.0)
    for y, sign in zip(rails, "+\N{MINUS SIGN}", strict=True):
        sheet.wire((0.0, y), (terminal - 0.14, y))
        sheet.terminal((terminal, y))
        sheet.write((terminal, y - 0.75 if y else y + 0.4), sign, anchor="middle", ink="faint")
    sheet.write((terminal, high + 0.4), shape.connector, anchor="middle", bold=True)
    x, last = terminal + LEAD, terminal + 0.14
    sheet.slot((terminal + 0.75, high - 0.75), "volts", ink="value")
    if not shape.columns:
        sheet.write((terminal + 0.6, high / 2 - 0.2), shape.bare, ink="faint")
    for n, column in enumerate(shape.columns):
        for y in rails:
            sheet.wire((last, y), (x, y))
            if n < len(shape.columns) - 1:
                sheet.junction((x, y))
        last = x
        _place(sheet, column, x, high, 0.0)
        x += _size(column)[0]
    return sheet.finished()


# ---- patches -----------------------------------------------------------------------------------


def _plates_high(shape: Shape) -> float:
    one = PLATE_HIGH + (FACE_HIGH if any(plate.face for plate in shape.plates) else 0.0)
    return one * (len(shape.plates) if shape.in_series else 1)


def _plates(sheet: Sheet, shape: Shape, high: float) -> float:
    """The patches between the leads, in their frame; where it ends."""
    plates = shape.plates
    step = high / max(len(plates), 1)
    for n, plate in enumerate(plates):
        x = 0.0 if shape.in_series else n * PLATE_WIDE
        top, low = (high - n * step, high - (n + 1) * step) if shape.in_series else (high, 0.0)
        sheet.piezo((x, top), (x, low), plate.dot_up)
        middle = (top + low) / 2
        sheet.write((x, middle - 0.36 * TEXT), plate.patch, anchor="middle", bold=True, ink="part")
        if plate.face:
            sheet.write((x + 0.15, middle - 1.55), plate.face, ink="faint")
        if 0 < n < len(plates) - 1 and not shape.in_series:
            for y in (high, 0.0):
                sheet.junction((x, y))
    wide = 0.0 if shape.in_series else (len(plates) - 1) * PLATE_WIDE
    if not shape.in_series and len(plates) > 1:
        for y in (high, 0.0):
            sheet.junction((wide, y))
    edge = wide + (1.75 if any(plate.face for plate in plates) else 1.2)
    sheet.frame(-1.0, -0.6, edge, high + 0.6)
    sheet.write((-1.0, -1.2), "on the part", ink="faint")
    return edge


# ---- what hangs between the leads ----------------------------------------------------------------


def _size(one: Tree) -> tuple[float, float]:
    """Width and height that it asks for."""
    match one:
        case Simulated(what="negative capacitor"):
            return AMP_WIDE, AMP_LOW + PART_HIGH
        case Simulated():
            return CHAIN_WIDE, CHAIN_LOW + PART_HIGH
        case Part():
            return PART_WIDE, PART_HIGH
        case Series(parts) if _has_amplifier(one):
            sizes = [_size(part) for part in parts]
            wide = AHEAD * (len(parts) - 1) + sizes[-1][0]
            return wide, max(high for _, high in sizes)
        case Series(parts):
            sizes = [_size(part) for part in parts]
            nested = sum(NESTED for part in parts if isinstance(part, Parallel))
            return max([PART_WIDE / 2, *(w for w, _ in sizes)]), sum(h for _, h in sizes) + nested
        case Parallel(parts):
            sizes = [_size(part) for part in parts]
            return sum(w for w, _ in sizes), max([0.0, *(h for _, h in sizes)])


def _has_amplifier(one: Tree) -> bool:
    return isinstance(one, Simulated) or (isinstance(one, Series) and any(map(_has_amplifier, one.parts)))


def _place(sheet: Sheet, one: Tree, x: float, top: float, low: float, *, ahead: bool = False) -> None:
    """Draw it from (x, top) to (x, low) and to the right of them; `ahead` says that something leads into it."""
    match one:
        case Simulated(what="negative capacitor"):
            _negative(sheet, one, x, top, low, above=ahead)
        case Simulated():
            _gyrator(sheet, one, x, top, low)
        case Part():
            sheet.part(one.what, (x, top), (x, low))
            _beside(sheet, one, x, (top + low) / 2)
        case Series(parts) if _has_amplifier(one):
            for part in parts[:-1]:
                _ahead(sheet, part, x, top)
                sheet.wire((x, low), (x + AHEAD, low))
                x += AHEAD
            _place(sheet, parts[-1], x, top, low, ahead=True)
        case Series(()):
            sheet.wire((x, top), (x, low))
        case Series(parts):
            asked = [_size(part)[1] + (NESTED if isinstance(part, Parallel) else 0.0) for part in parts]
            spare = (top - low - sum(asked)) / len(parts)
            for part, high in zip(parts, asked, strict=True):
                end = top - high - spare
                _place(sheet, part, x, top, end)
                top = end
        case Parallel(parts):
            _side_by_side(sheet, parts, x, top, low)


def _side_by_side(sheet: Sheet, parts: tuple[Tree, ...], x: float, top: float, low: float) -> None:
    """Parts in parallel among others in series: joined by short wires of their own."""
    upper, lower = top - NESTED / 2, low + NESTED / 2
    sheet.wire((x, top), (x, upper))
    sheet.wire((x, lower), (x, low))
    first = x
    for n, part in enumerate(parts):
        if n:
            for y in (upper, lower):
                sheet.wire((first, y), (x, y))
        else:
            for y in (upper, lower):
                sheet.junction((x, y))
        _place(sheet, part, x, upper, lower)
        x += _size(part)[0]


def _beside(sheet: Sheet, part: Part, x: float, y: float) -> None:
    """Name and value right of a part; what is said in words needs more room than a number."""
    in_words = part.what == "switch" or part.parameter.endswith("_ratio")
    sheet.write((x + (0.7 if part.what == "switch" else 0.5), y + 0.12), part.name, bold=True)
    sheet.slot((x + (0.7 if part.what == "switch" else 0.5), y - 0.55), part.name, room=15 if in_words else 9)
    if part.what == "inductor":
        sheet.slot((x + 0.5, y - 1.15), f"{part.name} how", ink="faint")


def _ahead(sheet: Sheet, part: Tree, x: float, y: float) -> None:
    """A part along the upper lead, its lettering above."""
    assert isinstance(part, Part)
    sheet.part(part.what, (x, y), (x + AHEAD, y))
    middle = x + AHEAD / 2
    sheet.write((middle, y + 1.05), part.name, anchor="middle", bold=True)
    sheet.slot((middle, y + 0.42), part.name, anchor="middle")


def _negative(sheet: Sheet, one: Simulated, x: float, top: float, low: float, *, above: bool) -> None:
    """The capacitor from the output back to the lead, two resistors that set the gain.

    `above` True: back to the inverting input, which holds while the whole is larger than what it hangs on; False:
    to the other one, which holds while it is smaller.
    """
    node = x + 0.6
    box = node + AMP_IN
    out, back = box + BOX_WIDE, box + BOX_WIDE + AMP_OUT
    middle = top + 0.7 - BOX_HIGH / 2
    lower = top + 1.4 - BOX_HIGH
    turn, gain = node + 0.9, top - AMP_LOW
    sheet.wire((x, top), (box, top))
    sheet.junction((node, top))
    sheet.amplifier((box, top), upper_inverts=above)
    sheet.slot((box + BOX_WIDE / 2, middle + 0.1), f"{one.name} N1", anchor="middle", bold=True, room=5)
    sheet.slot((box + BOX_WIDE / 2, middle - 0.52), "supply", anchor="middle", ink="faint", room=5)
    sheet.wire((out, middle), (back, middle))
    sheet.junction((back, middle))
    high = top + AMP_HIGH
    sheet.wire((node, top), (node, high))
    sheet.part("capacitor", (node, high), (back, high))
    sheet.wire((back, high), (back, middle))
    sheet.wire((back, middle), (back, gain))
    sheet.part("resistor", (turn, gain), (back, gain))
    sheet.wire((box, lower), (turn, lower), (turn, gain))
    sheet.junction((turn, gain))
    sheet.part("resistor", (turn, gain), (turn, low))
    sheet.wire((x, low), (turn, low))
    sheet.ground((turn, low))
    _pair(sheet, f"{one.name} Cr", ((node + back) / 2, high + 0.42))
    _stacked(sheet, f"{one.name} R2", (turn + 0.5, (gain + low) / 2))
    _pair(sheet, f"{one.name} R1", ((turn + back) / 2, gain + 0.42))
    _acts_as(sheet, one.name, (back + 0.5, middle + 0.9))
    sheet.slot((back + 0.5, middle - 0.6), f"{one.name} N1 volts", ink="value")


def _gyrator(sheet: Sheet, one: Simulated, x: float, top: float, low: float) -> None:
    """Five parts one after the other from the lead to the return, two amplifiers across them (Antoniou 1969)."""
    node = x + 0.6
    upper, middle, lower, far = (node + LINK * n for n in range(1, 5))
    sheet.wire((x, top), (node, top))
    for name, start in (("R1", node), ("R2", upper), ("R3", middle)):
        sheet.part("resistor", (start, top), (start + LINK, top))
        _under(sheet, f"{one.name} {name}", start + LINK / 2, top)
    sheet.part("capacitor", (lower, top), (far, top))
    _under(sheet, f"{one.name} C", lower + LINK / 2, top)
    for at in (node, upper, middle, lower):
        sheet.junction((at, top))
    _upper_amplifier(sheet, one.name, node, middle, lower, top)
    bottom = _lower_amplifier(sheet, one.name, upper, middle, far, top)
    sheet.junction((far, bottom))
    sheet.wire((far, top), (far, bottom))
    sheet.part("resistor", (far, bottom), (far, low))
    sheet.wire((x, low), (far, low))
    sheet.ground((far, low))
    _stacked(sheet, f"{one.name} R5", (far + 0.5, (bottom + low) / 2))
    _acts_as(sheet, one.name, (far + 0.5, top - 0.2))


def _upper_amplifier(sheet: Sheet, name: str, plus: float, minus: float, out: float, top: float) -> None:
    """Holds the node and the middle at one voltage by way of the part after the middle."""
    base, box = top + 0.75, minus + 0.35
    first, second = base + SMALL_HIGH - 0.7, base + 0.7
    sheet.amplifier((box, first), False, small=True)
    sheet.wire((plus, top), (plus, first), (box, first))
    sheet.wire((minus, top), (minus, second), (box, second))
    height = base + SMALL_HIGH / 2
    sheet.wire((box + SMALL_WIDE, height), (out, height), (out, top))
    sheet.slot((box + SMALL_WIDE + 0.2, base + SMALL_HIGH - 0.3), f"{name} N1", bold=True, room=6)
    sheet.slot((box + SMALL_WIDE + 0.2, base + SMALL_HIGH + 0.35), f"{name} N1 volts", ink="value", room=7)


def _lower_amplifier(sheet: Sheet, name: str, out: float, minus: float, plus: float, top: float) -> float:
    """Holds the far end and the middle at one voltage by way of the part before the middle; the height of its far input."""
    head, box = top - 1.75, minus - 0.35
    first, second = head - 0.7, head - SMALL_HIGH + 0.7
    sheet.amplifier((box, first), True, small=True, to_left=True)
    sheet.wire((minus, top), (minus, first), (box, first))
    sheet.wire((plus, second), (box, second))
    height = head - SMALL_HIGH / 2
    sheet.wire((box - SMALL_WIDE, height), (out, height), (out, top))
    sheet.slot((box - SMALL_WIDE / 2, head - SMALL_HIGH - 0.65), f"{name} N2", anchor="middle", bold=True, room=6)
    sheet.slot((box - SMALL_WIDE / 2, head - SMALL_HIGH - 1.3), f"{name} N2 volts", anchor="middle", ink="value", room=7)
    return second


def _pair(sheet: Sheet, key: str, middle: tuple[float, float]) -> None:
    """Name and value side by side about a place."""
    x, y = middle
    sheet.slot((x - 0.1, y), key, anchor="end", bold=True, room=6)
    sheet.slot((x + 0.1, y), f"{key} value")


def _stacked(sheet: Sheet, key: str, beside: tuple[float, float]) -> None:
    """Name over value, to the right of a part."""
    x, y = beside
    sheet.slot((x, y + 0.12), key, bold=True, room=6)
    sheet.slot((x, y - 0.55), f"{key} value")


def _under(sheet: Sheet, key: str, x: float, y: float) -> None:
    """Name over value, under a part."""
    sheet.slot((x, y - 0.85), key, anchor="middle", bold=True, room=6)
    sheet.slot((x, y - 1.45), f"{key} value", anchor="middle")


def _acts_as(sheet: Sheet, name: str, at: tuple[float, float]) -> None:
    x, y = at
    sheet.write((x, y), f"acts as {name}", ink="faint")
    sheet.slot((x, y - 0.65), name, bold=True, ink="value", room=8)
