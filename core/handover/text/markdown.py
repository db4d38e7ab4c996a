"""Documents as Markdown: the same words and tables, figures told in words."""

from __future__ import annotations

import re
from collections.abc import Iterator

from core.handover.text.document import (
    Block,
    Bullets,
    Caution,
    Document,
    Figure,
    Heading,
    Paragraph,
    Steps,
    Table,
)


def document_markdown(document: Document) -> str:
    """The document as CommonMark text with pipe tables."""
    lines = [f"# {_safe(document.title)}: {document.kind.lower()}", "", f"For {document.receiver}.", ""]
    lines += [f"- {name}: {_safe(value)}" for name, value in document.identity if value]
    for block in document.blocks:
        lines += ["", *_lines(block)]
    return "\n".join(lines) + "\n"


def _lines(block: Block) -> Iterator[str]:
    match block:
        case Heading(text):
            yield f"## {_safe(text)}"
        case Paragraph(text, bold):
            yield f"**{_safe(text)}**" if bold else _safe(text)
        case Bullets(items):
            yield from (f"- {_safe(text)}" for text in items)
        case Steps(items):
            yield from (f"{n}. [ ] {_safe(text)}" for n, text in enumerate(items, start=1))
        case Caution(heading, items):
            yield f"> **{_safe(heading)}**"
            for text in items:
                yield ">"
                yield f"> {_safe(text)}"
        case Table():
            yield from _table(block)
        case Figure():
            yield f"*{_safe(block.caption)}*"
            if block.words:
                yield ""
                yield from (f"- {_safe(text)}" for text in block.words)


def _table(table: Table) -> Iterator[str]:
    heads = table.heads if any(table.heads) else ("",) * len(table.shares)
    yield "| " + " | ".join(_cell(c) for c in heads) + " |"
    yield "|" + "|".join("---:" if k in table.right else "---" for k in range(len(heads))) + "|"
    for row in table.rows:
        yield "| " + " | ".join(_cell(c) for c in row) + " |"


def _cell(text: str) -> str:
    return _safe(text).replace("|", r"\|")


def _safe(text: str) -> str:
    """Text whose marks mean themselves: what a person typed is not formatting."""
    text = " ".join(text.split())
    return re.sub(r"(?<!_)_(?!_)|[*`<>\\#\[\]]", lambda m: "\\" + m[0], text)
