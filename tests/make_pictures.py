"""Makes the README's pictures with the program itself: `python -m tests.make_pictures`."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ["QUIETSPAN_HOME"] = tempfile.mkdtemp()

from PySide6.QtCore import QEventLoop, QTimer
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QWidget

from app.shell.session import Session
from app.shell.settings import Settings
from app.shell.start import make_application
from app.shell.window import MainWindow
from app.theme import look
from core.project import library

FOLDER = Path(__file__).resolve().parents[1] / "resources" / "pictures"


def wait(milliseconds: int) -> None:
    loop = QEventLoop()
    QTimer.singleShot(milliseconds, loop.quit)
    loop.exec()


def take(widget: QWidget, name: str) -> None:
    widget.grab().save(str(FOLDER / name))
    print(FOLDER / name)


def window_on(example: str, theme: look.Look, width: int = 1440, height: int = 900) -> MainWindow:
    look.set_look(theme)
    session = Session(library.example(example))
    window = MainWindow(session, Settings())
    session.setParent(window)
    window.resize(width, height)
    window.show()
    wait(3000)
    return window


def main() -> None:
    app = make_application()
    FOLDER.mkdir(exist_ok=True)
    window = window_on("lab-beam", look.light())
    take(window, "window.png")
    window.pages.compare()
    wait(1500)
    take(window, "side-by-side.png")
    window.findChild(QAction, "placementMap").trigger()
    wait(4000)
    take(window, "map.png")
    dark = window_on("touring-ski", look.dark())
    take(dark, "ski-dark.png")
    from app.handover.render import drawing_image
    from core.handover.documents import Order, kind
    from core.handover.sheet.diagram import placement_diagrams
    from core.handover.text.results import compute_results

    sheet = placement_diagrams(library.example("touring-ski"), None)[0]
    drawing_image(sheet, dpi=110).save(str(FOLDER / "placement-diagram.png"))
    ski = library.example("touring-ski")
    which = kind("record")
    order = Order(ski, ski.active, compute_results(ski, ski.active, which.needs))
    drawing_image(which.draw(order)[0], dpi=80).save(str(FOLDER / "record.png"))
    for opened in (window, dark):
        opened.session.undo_stack.setClean()
        opened.close()
    app.processEvents()


if __name__ == "__main__":
    main()
