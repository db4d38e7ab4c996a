"""The menus as data: each entry names its text, its keys, what it calls on the window."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QMenu

from app.fields.pending import commit_typing
from app.results.stop_block import KEY
from app.results.use_choice import USES, choose
from app.shell.page_row import PAGES

if TYPE_CHECKING:
    from app.shell.window import MainWindow

Keys = QKeySequence.StandardKey | str | None


@dataclass(frozen=True)
class Entry:
    """A menu entry; `name` is the QAction's objectName, `checkable` starts from the state given."""

    name: str
    text: str
    slot: Callable[..., object]
    keys: Keys = None
    tip: str = ""
    checkable: bool = False


def add(window: MainWindow, menu: QMenu, entries: list[Entry | None]) -> dict[str, QAction]:
    """The actions made, by name; None makes a separator."""
    made = {}
    for entry in entries:
        if entry is None:
            menu.addSeparator()
            continue
        action = QAction(entry.text, window)
        action.setObjectName(entry.name)
        action.setCheckable(entry.checkable)
        if entry.keys is not None:
            action.setShortcut(QKeySequence(entry.keys))
        if entry.tip:
            action.setStatusTip(entry.tip)
        action.triggered.connect(_commit)  # its keys take no focus from a field that is typed in
        action.triggered.connect(entry.slot)
        menu.addAction(action)
        made[entry.name] = action
    return made


def _commit(_checked: bool = False) -> None:
    commit_typing()


def file_entries(window: MainWindow) -> list[Entry | None]:
    keys, doc = QKeySequence.StandardKey, window.document
    return [
        Entry("newProject", "&New", doc.new, keys.New, "A plain strip to change into the customer's part"),
        Entry("openProject", "&Open …", doc.open, keys.Open),
    ]


def save_entries(window: MainWindow) -> list[Entry | None]:
    keys, doc = QKeySequence.StandardKey, window.document
    return [
        None,
        Entry("saveProject", "&Save", doc.save, keys.Save),
        Entry("saveProjectAs", "Save &as …", doc.save_as, "Ctrl+Shift+S"),
        None,
        Entry("importOutline", "&Import outline …", window.import_outline, "Ctrl+I",
              "The part's outline from DXF, SVG, a picture or a table of widths"),
        Entry("handOver", "&Papers", window.pages.hand_over, "Ctrl+P", "Diagram, template, cards and record"),
        None,
        Entry("quit", "&Quit", window.close, keys.Quit),
    ]


def page_entries(window: MainWindow) -> list[Entry | None]:
    pages: list[Entry | None] = [
        Entry(f"show-{name}", title, partial(window.pages.show_page, name), f"Ctrl+{place}")
        for place, (name, title) in enumerate(PAGES, 1)
    ]
    inputs = Entry("toggleInputs", "&Inputs", window.toggle_inputs, "F4", "Fold them away, or bring them back")
    show = Entry("playRingDown", "Play the &ring-down", window.pages.show_ring_down, "F6",
                 "The part swinging, before and after, slowed down, as a picture and as sound; Space on the drawing")  # fmt: skip
    uses: list[Entry | None] = [
        Entry(f"look-{use}", title, partial(choose, window.session, use), f"Alt+{place}", tip)
        for place, (use, title, tip) in enumerate(USES, 1)
    ]
    return [*pages, None, *uses, None, inputs, show]


def edit_entries(window: MainWindow) -> list[Entry | None]:
    return [
        None,
        Entry("addPatch", "Add a &patch", window.add_patch, "Ctrl+Shift+N", "One more on this candidate"),
        Entry("addTunedMass", "Add a tuned &mass", window.add_tuned_mass, None, "A mass on a spring and a damper"),
        Entry("deletePatch", "&Delete the selected patch", window.delete_patch, "Ctrl+Backspace"),
        None,
        Entry("copyPicture", "&Copy the drawing as a picture", window.copy_picture, "Ctrl+Shift+C"),
        Entry("copyTable", "Copy the results as a &table", window.copy_table, "Ctrl+Alt+C"),
    ]


def candidate_entries(window: MainWindow) -> list[Entry | None]:
    return [
        Entry("keepCandidate", "&Keep this placement, go on in a copy", window.bar.keep, "Ctrl+K",
              "This candidate stays as it is now; you work on under the next letter"),
        Entry("renameCandidate", "&Rename", window.rename_candidate, "F2"),
        Entry("duplicateCandidate", "&Duplicate, stay in this one", window.duplicate_candidate, "Ctrl+D",
              "A copy under the next letter; you work on in this candidate"),
        Entry("deleteCandidate", "D&elete", window.delete_candidate, "Ctrl+Shift+Backspace"),
        None,
        Entry("nextCandidate", "&Next", window.next_candidate, "Ctrl+PgDown"),
        Entry("previousCandidate", "&Previous", window.previous_candidate, "Ctrl+PgUp"),
        None,
        Entry("goBack", "&Back to what holds", window.answers.stop.go_back, KEY,
              "Where a circuit runs away: the nearest setting that does not"),
        None,
        Entry("compareCandidates", "&Compare side by side", window.pages.compare, "Ctrl+B"),
    ]


def study_entries(window: MainWindow) -> list[Entry | None]:
    return [
        Entry(
            "showStrip",
            "Damping against &position under the drawing",
            window.show_strip,
            "Ctrl+T",
            "What each mode would get if the selected patch started at x",
            checkable=True,
        ),
        None,
        Entry(
            "placementMap",
            "&Map of placements",
            window.pages.show_map,
            "Ctrl+M",
            "A quantity over start and length, width or thickness of the selected patch",
        ),
        Entry("findBest", "&Find the best layouts", window.pages.find_best, "Ctrl+F", "Search within limits"),
        Entry(
            "toleranceStudy",
            "What &tolerances do",
            window.pages.show_tolerance,
            "Ctrl+Shift+T",
            "Spread of the damping, its main causes, allowed misplacement",
        ),
        Entry("activeLoop", "Active &loop", window.show_loop, None, "One group listens, another drives: law, margins, coefficients"),
        None,
    ]


def help_entries(window: MainWindow) -> list[Entry | None]:
    return [
        Entry("helpPages", "&How to do the job", window.show_help, QKeySequence.StandardKey.HelpContents),
        Entry("helpKeys", "&Keys", window.show_keys),
        Entry("helpModel", "The &model and what it leaves out", window.show_model),
        Entry("helpWords", "&Words", window.show_words),
        Entry("cautions", "&Cautions", window.show_cautions),
        None,
        Entry("about", "&About Quietspan", window.show_about),
    ]
