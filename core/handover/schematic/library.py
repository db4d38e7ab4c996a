"""The drawing library, loaded for its symbols alone.

Where a plotting library is installed it would load that too, as another backend, for seconds: it is told that there is
none while it loads.
"""

from __future__ import annotations

import sys

_HEAVY = "matplotlib"
_hidden = _HEAVY not in sys.modules
if _hidden:
    sys.modules[_HEAVY] = None  # type: ignore[assignment]
try:
    from schemdraw import Drawing, elements, segments
    from schemdraw.elements import Element, Element2Term
    from schemdraw.segments import Segment, SegmentCircle
finally:
    if _hidden:
        del sys.modules[_HEAVY]

__all__ = ["Drawing", "Element", "Element2Term", "Segment", "SegmentCircle", "elements", "segments"]
