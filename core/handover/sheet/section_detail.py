"""Detail of the package section: what lies on what, from the part outward. Not to scale."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from core.handover.drawing.items import Arrow, Hatch, Item, Polygon, Text
from core.handover.drawing.lettering import fit, wrap
from core.handover.sheet.layout import Box, Lettering
from core.handover.sheet.subject import Placed, Subject

HATCHES = {
    "part": Hatch(45.0, 2.2),
    "ceramic": Hatch(-45.0, 1.0),
}


def thin(value_m: float) -> str:
    """A thickness in mm with the two or three decimals it needs."""
    text = f"{1e3 * value_m:.3f}"
    return text[:-1] if text.endswith("0") else text


def bond_line(thickness_m: float) -> str:
    """The bond line with its tolerance, half of it either way."""
    return f"{1e3 * thickness_m:.3f} ± {1e3 * thickness_m / 2:.3f}"


def shared(placed: tuple[Placed, ...], words: Callable[[Placed], str]) -> str:
    """One value where all packages agree, else each value with the names it belongs to; empty for none."""
    values: dict[str, list[str]] = {}
    for one in placed:
        values.setdefault(words(one), []).append(one.id)
    if len(values) <= 1:
        return next(iter(values), "")
    return "; ".join(f"{', '.join(ids)}: {value}" for value, ids in values.items())


def detail_items(subject: Subject, box: Box, letters: Lettering) -> Iterator[Item]:
    """Heading, five bands and their words, filling the box; nothing where no package is on the face."""
    if not subject.placed:
        return
    size = min(letters.body, letters.dimension)
    heading = "Package section, not to scale"
    yield Text((box.left, box.top + size), fit(heading, size, box.width, True), size, "section", bold=True)
    bands = _bands(subject)
    top, room = box.top + 1.8 * size, box.height - 1.8 * size
    width = 0.26 * box.width
    heights = [share * room / sum(share for _, share, _ in bands) for _, share, _ in bands]
    order = list(zip(bands, heights, strict=True))[::-1]
    y = top
    for (kind, _, words), height in order:
        right, low = box.left + width, y + height
        corners = ((box.left, y), (right, y), (right, low), (box.left, low))
        yield Polygon(corners, "section", "medium", hatch=HATCHES.get(kind))
        yield from _words(words, box.left + width + 2.0, y + height / 2, box, height, letters)
        if kind == "ceramic":
            yield from _poling(box.left + width / 2, y, height, size, subject.face == "top")
        y += height


def _bands(subject: Subject) -> list[tuple[str, float, str]]:
    """(kind, share of the height, words) from the part outward."""
    placed = subject.placed
    layers = subject.project.structure.layers
    surface = layers[-1 if subject.face == "top" else 0] if layers else None
    face = f", face {surface.name} ({surface.pieces[0].material})" if surface else ", without a base"
    part = shared(placed, lambda p: f"{subject.thickness_mm(p.centre[0]):.1f} thick at the patch")
    return [
        ("part", 1.2, f"part: {part}{face}"),
        ("bond", 0.8, "bond line " + shared(placed, lambda p: bond_line(p.patch.bond.thickness_m))),
        ("skin", 0.8, "lower skin " + shared(placed, lambda p: thin(p.package.lower_skin.thickness_m))),
        ("ceramic", 1.5, shared(
            placed, lambda p: f"ceramic {thin(p.package.ceramic_thickness_m)}, {p.package.ceramic.name}")),
        ("skin", 0.8, "upper skin " + shared(placed, lambda p: thin(p.package.upper_skin.thickness_m))),
    ]  # fmt: skip


def _words(text: str, x: float, middle: float, box: Box, height: float, letters: Lettering) -> Iterator[Item]:
    """The words of a band beside it, in as many lines as its height takes."""
    size = letters.body
    while True:
        lines = wrap(text, size, box.right - x)
        if 1.15 * size * len(lines) <= height or size <= letters.least:
            break
        size -= 0.1
    take = max(1, int(height / (1.15 * size)))
    if len(lines) > take:
        lines = (*lines[: take - 1], fit(" ".join(lines[take - 1 :]), size, box.right - x))
    first = middle - (len(lines) - 1) * 1.15 * size / 2 + 0.36 * size
    for n, line in enumerate(lines):
        yield Text((x, first + 1.15 * size * n), line, size, "section")


def _poling(x: float, top: float, height: float, size: float, away: bool) -> Iterator[Item]:
    """Poling is +z on both faces, as in the model: away from the part on the top face, towards it on
    the underside, which is drawn turned over."""
    corners = ((x - 1.6, top + 0.8), (x + 5.2, top + 0.8), (x + 5.2, top + height - 0.8),
               (x - 1.6, top + height - 0.8))  # fmt: skip
    yield Polygon(corners, "section", None, fill="white")
    foot, head = (x, top + height - 1.0), (x, top + 1.0)
    yield Arrow(*((foot, head) if away else (head, foot)), "section", "narrow", min(2.0, height / 2))
    yield Text((x + 1.4, top + height / 2 + 0.36 * size), "P", size, "section", bold=True)
