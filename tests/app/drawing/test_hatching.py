"""Hatching reaches over the whole page on every screen."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

SCRIPT = """
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QPainter, QPen
from PySide6.QtWidgets import QApplication, QWidget
from app.drawing.ink import hatch, rect_path

class Page(QWidget):
    def paintEvent(self, _event):
        with QPainter(self) as p:
            p.fillRect(self.rect(), QColor("white"))
            hatch(p, rect_path(QRectF(self.rect())), QPen(QColor("black"), 1.0))

app = QApplication([])
page = Page()
page.resize(200, 100)
picture = page.grab().toImage()
wide, high = picture.width() // 4, picture.height() // 4
dark = [sum(picture.pixelColor(a * wide + x, b * high + y).lightness() < 128 for x in range(wide) for y in range(high))
        for a in range(4) for b in range(4)]
print(picture.devicePixelRatio(), min(dark), max(dark))
"""


@pytest.mark.parametrize("scale", ["1", "1.5", "2"])
def test_a_widget_is_hatched_into_its_last_corner(scale):
    """At 200 % the lower half of what a map forbids was plain, and a collision far to the right was not hatched at all."""
    surroundings = os.environ | {"QT_SCALE_FACTOR": scale, "QT_QPA_PLATFORM": "offscreen"}
    done = subprocess.run([sys.executable, "-c", SCRIPT], env=surroundings, capture_output=True, text=True, timeout=120, check=True)
    ratio, least, most = (float(word) for word in done.stdout.split())
    assert ratio == float(scale)
    assert least > 0.5 * most
