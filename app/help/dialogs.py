"""Help in one window that stays open beside the work; the about box with versions."""

from __future__ import annotations

from importlib import resources

from PySide6.QtCore import QObject, Qt, QUrl, Slot
from PySide6.QtGui import QTextCursor, QTextDocument
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QListWidget,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from app.fields.within_screen import resize_within
from app.help.licences import WORDS, font_licence, licence_table
from app.shell.errors import versions
from app.theme import look

PAGES: tuple[tuple[str, str], ...] = (
    ("job", "How to do the job"),
    ("studies", "Studies"),
    ("keys", "Keys"),
    ("words", "Words"),
    ("model", "The model and what it leaves out"),
    ("measured", "Against measurements"),
    ("cautions", "Cautions"),
)


def page_text(key: str) -> str:
    """The Markdown of a help page. KeyError if there is none of that name."""
    if key not in dict(PAGES):
        raise KeyError(key)
    return resources.files("resources").joinpath("help", f"{key}.md").read_text(encoding="utf-8")


def give_room(document: QTextDocument) -> None:
    """Space above headings and under paragraphs outside tables; Markdown brings none of its own."""
    cursor, block = QTextCursor(document), document.begin()
    while block.isValid():
        cursor.setPosition(block.position())
        if cursor.currentTable() is None:
            form = block.blockFormat()
            form.setTopMargin(16.0 if form.headingLevel() else 0.0)
            form.setBottomMargin(8.0)
            cursor.setBlockFormat(form)
        block = block.next()


class HelpWindow(QDialog):
    """Pages on the left, text on the right; links between pages work."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("helpWindow")
        self.setWindowTitle("Help")
        resize_within(self, 900, 640)
        self._list = QListWidget(self)
        self._list.setObjectName("helpPageList")
        self._list.setAccessibleName("Help pages")
        self._list.addItems([title for _, title in PAGES])
        self._list.setFixedWidth(240)
        self._list.setSpacing(3)
        self._text = QTextBrowser(self)
        self._text.setObjectName("helpText")
        self._text.setAccessibleName("Help text")
        self._text.setOpenLinks(False)
        self._text.anchorClicked.connect(self._on_link)
        self._list.currentRowChanged.connect(self._on_row)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(8, 8, 8, 8)
        layout.addWidget(self._list)
        layout.addWidget(self._text, 1)
        look.look_changed.connect(self._render)

    def show_page(self, key: str) -> None:
        self._list.setCurrentRow([name for name, _ in PAGES].index(key))
        self.show()
        self.raise_()
        self.activateWindow()

    @Slot(int)
    def _on_row(self, _row: int) -> None:
        self._render()

    @Slot()
    def _render(self) -> None:
        row = max(self._list.currentRow(), 0)
        now = look.current()
        document = self._text.document()
        document.setDefaultFont(look.font(13))
        document.setDefaultStyleSheet(f"a {{ color: {now.accent.name()} }}")
        document.setDocumentMargin(16)
        self._text.setMarkdown(page_text(PAGES[row][0]))
        give_room(document)
        self._text.moveCursor(QTextCursor.MoveOperation.Start)

    @Slot(QUrl)
    def _on_link(self, link: QUrl) -> None:
        key = link.path().removesuffix(".md")
        if key in dict(PAGES):
            self.show_page(key)


class AboutBox(QDialog):
    """What the program is for, its versions, where its files are."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("aboutBox")
        self.setWindowTitle("About Quietspan")
        resize_within(self, 620, 560)
        text = QTextBrowser(self)
        text.setObjectName("aboutText")
        text.setAccessibleName("About Quietspan")
        text.document().setDefaultFont(look.font(13))
        fonts = "\n".join(f"    {line}" for line in font_licence().splitlines())
        about = ABOUT.format(versions=licence_table(versions()), words=WORDS)
        text.setMarkdown(f"{about}{page_text('cautions')}\n\n# Lettering\n\n{fonts}\n")
        give_room(text.document())
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close, self)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addWidget(text)
        layout.addWidget(buttons)


ABOUT = """# Quietspan

Where to bond a piezoceramic patch on a vibrating beam-like part, what to connect to it, what that
gives, and the sheet the shop needs.

{versions}

{words}

"""


class HelpDialogs(QObject):
    """Makes the help window when it is first wanted and keeps it."""

    def __init__(self, window: QWidget) -> None:
        super().__init__(window)
        self._window = window
        self._help: HelpWindow | None = None

    def show_page(self, key: str) -> None:
        if self._help is None:
            self._help = HelpWindow(self._window)
        self._help.show_page(key)

    def show_about(self) -> None:
        box = AboutBox(self._window)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        box.open()
