"""How trouble is told on the error stream: in short lines, whatever the names in a file are."""

from __future__ import annotations

import re

from core.project.files import shortened

LONGEST_WORD = 120
LONGEST_TEXT = 4000
_LONG_WORD = re.compile(rf"\S{{{LONGEST_WORD + 1},}}")
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")


def plain(text: str) -> str:
    """The text without control characters, its long words and its whole shortened."""
    clean = _CONTROL.sub("\N{REPLACEMENT CHARACTER}", text)
    return shortened(_LONG_WORD.sub(lambda word: shortened(word[0], LONGEST_WORD), clean), LONGEST_TEXT)
