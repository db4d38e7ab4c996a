"""A field as a picture: the perceptually even viridis scale, its bright end always the better one."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from PySide6.QtGui import QImage

Array = NDArray[np.float64]


@lru_cache(maxsize=1)
def scale() -> NDArray[np.uint8]:
    """(256, 4) red, green, blue, alpha."""
    import pyqtgraph as pg  # loaded with the first study, not with the window

    return np.asarray(pg.colormap.get("viridis").getLookupTable(nPts=256, alpha=True), dtype=np.uint8)


def picture(values: Array, low: float, high: float, *, lower_is_better: bool) -> QImage:
    """(X, Y) values as an image, x to the right and y up; nan is left transparent."""
    rows = values.T[::-1]
    share = (rows - low) / (high - low) if high > low else np.ones_like(rows)
    if lower_is_better:
        share = 1.0 - share
    known = np.isfinite(share)
    index = np.clip(np.where(known, share, 0.0) * 255.0, 0, 255).astype(np.intp)
    pixels = scale()[index].copy()
    pixels[~known] = 0
    height, width = rows.shape
    image = QImage(
        np.ascontiguousarray(pixels).tobytes(), width, height, 4 * width, QImage.Format.Format_RGBA8888
    )
    return image.copy()
