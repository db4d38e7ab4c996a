"""Labels and sentences inside other sentences."""

from __future__ import annotations

OF_PERSONS = ("Young's", "Poisson's")


def inside(text: str) -> str:
    """A label as it stands amid a sentence: its first letter small, but for names of persons and short signs
    ("Young's modulus", "R-L", "d31", "T1")."""
    stays = text.startswith(OF_PERSONS) or not text[1:2].islower()
    return text if stays else text[:1].lower() + text[1:]
