"""A quantity has one text: panel, copied table, side by side, card, record and terminal agree to the letter."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from msgspec.structs import replace
from PySide6.QtGui import QGuiApplication

from app.results.facts import group_rows, limit_rows
from app.sidebyside.rows import comparison_rows
from core.handover.text.circuit_card import circuit_card
from core.handover.text.decision_record import MOST_MODES, decision_record
from core.handover.text.document import Bullets, Caution, Document, Figure, Heading, Paragraph, Steps, Table
from core.predict.loads.limit_words import margin_cell, margin_words, share_words, value_words
from core.predict.predict import predict
from core.predict.report.report import prediction_text
from core.project import edit, library
from core.units import words

pytestmark = pytest.mark.slow  # walks everything; CI does

EXAMPLES = [key for key, _ in library.examples()]
ROOT = Path(__file__).resolve().parents[2]


def texts_of(document: Document) -> Iterator[str]:
    """Every text of a document."""
    for block in document.blocks:
        if isinstance(block, Heading | Paragraph):
            yield block.text
        elif isinstance(block, Bullets | Steps | Caution):
            yield from block.items
        elif isinstance(block, Table):
            yield from (cell for row in (block.heads, *block.rows) for cell in row)
        elif isinstance(block, Figure):
            yield from (block.caption, *block.words)


def has(texts: list[str], wanted: str) -> bool:
    """Whether a text says exactly that, not as part of a longer number."""
    exact = re.compile(rf"(?<![\d.,]){re.escape(wanted)}(?![\d.,]?\d)")
    return any(exact.search(text) for text in texts)


@pytest.fixture(params=EXAMPLES)
def opened(request, window, qtbot):
    """The window on an example; the session draws what a person sees."""
    window.session.replace(library.example(request.param), None)
    window.session.undo_stack.setClean()
    return window


def test_window_papers_and_terminal_say_the_same(opened, qtbot):
    project = opened.session.project
    found = {c.id: predict(project, c.id) for c in project.candidates}
    sides = comparison_rows([found[c.id] for c in project.candidates], 0)
    for place, candidate in enumerate(project.candidates):
        opened.session.apply("Work on", edit.set_active(opened.session.project, candidate.id))
        prediction = opened.session.prediction
        assert prediction is not None and prediction.candidate == candidate.id
        opened.copy_table()
        copied = QGuiApplication.clipboard().text().split("\n")
        bars = opened.results.bars.sentences()
        limits = [text for row in limit_rows(prediction.limits) for text in (row.value, row.second, row.tip)]
        groups = [text for row in group_rows(prediction.groups) for text in (row.value, row.note, row.second)]
        now = replace(project, active=candidate.id)
        card = list(texts_of(circuit_card(now, candidate.id, prediction, None)))
        record = list(texts_of(decision_record(now, candidate.id, found)))
        terminal = prediction_text(now, prediction).split("\n")
        column = [row.cells[place].text for row in sides]
        for mode in prediction.modes:
            row = next(line for line in terminal if re.match(rf"\s+{mode.number}\s+([BC]\d+\s+)?\d", line)).split()
            damping, k2, f = words.damping(mode.zeta), words.coupling(mode.k2), words.frequency(mode.f_short_hz)
            bar = bars[mode.number - 1]
            for quantity in (damping, k2, f):
                assert has([bar], quantity), (quantity, bar)
                assert has(copied, quantity), quantity
                assert words.unitless(quantity) in " ".join(row), (quantity, row)
            assert column[mode.number - 1] == damping
            if mode.number <= MOST_MODES:
                assert words.zeta_change(mode.zeta_before, mode.zeta) in record
        for group in prediction.groups:
            for value in group.values:
                told = words.part(value.value, value.unit)
                for where in (groups, copied, column, card, record, terminal):
                    assert has(where, told), (told, value.name)
            for farad in (group.free_capacitance_f, group.blocked_capacitance_f):
                told = words.capacitance(farad)
                for where in (groups, copied, column, card, terminal):
                    assert has(where, told), told
        for limit in prediction.limits:
            for told in (value_words(limit), margin_words(limit), share_words(limit)):
                assert has(limits, told), told
            assert has(terminal, value_words(limit)) and has(terminal, margin_cell(limit))
        for limit in prediction.limits[:3]:
            assert margin_cell(limit) in record
        mass, ring = words.mass(prediction.added_mass_kg), prediction.ring_down
        for where in (copied, column, record, terminal):
            assert has(where, mass), mass
            assert has(where, words.seconds(ring.settle_after_s).rpartition(" ")[0] or "never")


NUMBER = re.compile(r"\{[^{}\"]*:[+]?\.\d+[fge]\}")
ESTIMATE = re.compile(r"ratio|smallest|high|estimate|torsion|turn|WIDE|SLENDER|share|planar|k31|degrees|rad2deg")
"""Estimates in remarks and angles: told once, and rounded where they are told."""
OWN_RULES = {
    "core/handover/sheet", "core/handover/drawing", "core/handover/template",  # dimensions of drawings, in mm
    "core/outline", "app/outline",  # what was read of a drawing
    "core/units",
}  # fmt: skip
PLAIN = {
    "app/fields/quantity.py", "app/panels/edits.py", "core/circuit/preferred.py",  # rounding, not showing
    "app/shell/document.py", "app/shell/status.py", "core/project/store.py", "core/project/files.py",  # minutes, megabytes
    "core/measured/readers.py", "core/measured/numbers.py", "core/measured/universal.py", "core/measured/kept.py",
    "core/measured/wav.py", "core/measured/bonded_csv.py",  # megabytes and millions of samples
    "core/handover/netlist.py", "core/handover/schematic/svg.py", "core/handover/show/animation.py",  # figures of file formats
    "app/studies/words.py",  # bare numbers of a copied map
    "app/drawing/dimensions.py", "app/drawing/surface.py", "app/drawing/plan.py", "app/drawing/side.py",
    "app/sidebyside/mini_drawing.py",  # numbers without unit beside a dimension line
}  # fmt: skip


def test_no_other_place_rounds_a_result():
    found = []
    for path in [*(ROOT / "core").rglob("*.py"), *(ROOT / "app").rglob("*.py")]:
        name = path.relative_to(ROOT).as_posix()
        if name in PLAIN or name.startswith(tuple(OWN_RULES)):
            continue
        for number, line in enumerate(path.read_text(encoding="utf-8").split("\n"), 1):
            if 'float(f"' in line:  # a value kept with so many figures, not shown
                continue
            for text in NUMBER.findall(line):
                if not ESTIMATE.search(text):
                    found.append(f"{name}:{number}: {text}")
    assert not found, "\n".join(found)
