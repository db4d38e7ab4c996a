"""What the program stands on and under which licence it is used, for the About box."""

from __future__ import annotations

from importlib import resources

LICENCES: dict[str, str] = {
    "Python": "Python Software Foundation License",
    "Qt": "GNU LGPL version 3 or GPL version 2 or later",
    "PySide6-Essentials": "GNU LGPL version 3 or GPL version 2 or later",
    "pyqtgraph": "MIT",
    "numpy": "BSD, 3 clauses",
    "scipy": "BSD, 3 clauses",
    "msgspec": "BSD, 3 clauses",
    "pint": "BSD, 3 clauses",
    "shapely": "BSD, 3 clauses; the GEOS library in it: GNU LGPL version 2.1",
    "ezdxf": "MIT",
    "svgelements": "MIT",
    "pyuff": "MIT",
    "schemdraw": "MIT",
}
"""By the names of `versions()`; each library brings its own text where it is installed."""

WORDS = """Qt and its Python binding PySide6 are used under the GNU Lesser General Public License (LGPL); they are
libraries of their own that you may replace by another version. The lettering of the documents is DejaVu Sans
Condensed under the licences below.
"""


def licence_table(versions: list[tuple[str, str]]) -> str:
    """Name, version and licence of each as a Markdown table."""
    rows = [f"| {name} | {version} | {LICENCES.get(name, '')} |" for name, version in versions]
    return "\n".join(("| | version | used under |", "|---|---|---|", *rows))


def font_licence() -> str:
    """The licences of the shipped typeface, whole."""
    return resources.files("resources").joinpath("fonts", "LICENSE.txt").read_text(encoding="utf-8")
