"""How long a line of text is, and where to break it, without a screen.

The sheets use one shipped typeface; its advance widths are data (resources/fonts), so what is
laid out here fits wherever it is drawn. A character the typeface lacks is taken as one em wide,
which is as wide as any of them gets.
"""

from __future__ import annotations

import json
from functools import lru_cache
from importlib.resources import files

from core.handover.drawing.items import Text

FAMILY = "Quietspan Sheet"
DESCENDING = frozenset("gjpqyQ()[]{},;_|/§ß°µμ")
"""Characters with ink below the base line (and some that are taken to have)."""
ASCENT, DESCENT = 0.76, 0.24
"""Ink above and below the base line of ordinary lettering, of the text size."""


@lru_cache(maxsize=1)
def _advances() -> dict[str, dict[str, int]]:
    return json.loads((files("resources") / "fonts" / "advances.json").read_text(encoding="utf-8"))


def printable(text: str) -> str:
    """The text without what no file format may hold: control characters and lone surrogates."""
    return "".join(c for c in text if c == " " or (c.isprintable() and c not in "\ufffe\uffff"))


def text_width_mm(text: str, size_mm: float, bold: bool = False) -> float:
    """Length of a line of text in mm."""
    table = _advances()["bold" if bold else "regular"]
    return size_mm * sum(table.get(character, 1000) for character in text) / 1000


def text_box(item: Text) -> tuple[float, float, float, float]:
    """(left, top, right, bottom) of upright or quarter-turned text on the paper, mm."""
    width = text_width_mm(item.text, item.size_mm, item.bold)
    before = {"start": 0.0, "middle": width / 2, "end": width}[item.anchor]
    x, y = item.at
    up, down = ASCENT * item.size_mm, DESCENT * item.size_mm
    if round(item.angle_deg) % 180 == 90:  # reads upward: the line runs towards smaller y
        return (x - up, y - width + before, x + down, y + before)
    return (x - before, y - up, x - before + width, y + down)


def ink_below_mm(text: str, size_mm: float) -> float:
    """How far a line of text reaches below its base line, mm."""
    return DESCENT * size_mm if DESCENDING & set(text) else 0.02 * size_mm


def wrap(text: str, size_mm: float, width_mm: float, bold: bool = False) -> tuple[str, ...]:
    """The text broken at spaces into lines no longer than `width_mm`; longer words are cut."""
    lines: list[str] = []
    for paragraph in text.splitlines() or [""]:
        line = ""
        for word in words_of(paragraph):
            trial = f"{line} {word}" if line else word
            if text_width_mm(trial, size_mm, bold) <= width_mm:
                line = trial
                continue
            if line:
                lines.append(line)
            while text_width_mm(word, size_mm, bold) > width_mm and len(word) > 1:
                keep = len(word) - 1
                while keep > 1 and text_width_mm(word[:keep], size_mm, bold) > width_mm:
                    keep -= 1
                lines.append(word[:keep])
                word = word[keep:]
            line = word
        lines.append(line)
    return tuple(lines)


UNITS = ("%", "°C", "mm", "nF", "V", "h", "min", "K/min", "MΩ", "kHz")


def words_of(paragraph: str) -> list[str]:
    """Words that stay together: a number keeps its unit, a question the line to write on."""
    words: list[str] = []
    for word in paragraph.split():
        unit = word.rstrip(").,;") in UNITS and words and words[-1][-1:].isdigit()
        if words and (unit or word.startswith("___")):
            words[-1] += f" {word}"
        else:
            words.append(word)
    return words


def fit(text: str, size_mm: float, width_mm: float, bold: bool = False) -> str:
    """One line no longer than `width_mm`, ended with an ellipsis where it had to be cut."""
    text = " ".join(text.split())
    if text_width_mm(text, size_mm, bold) <= width_mm:
        return text
    while text and text_width_mm(text + "…", size_mm, bold) > width_mm:
        text = text[:-1]
    return text.rstrip() + "…"
