"""Every document of the hand-over in one list: what it is called, for whom, in which formats.

A new document is one file and one entry here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal

from core.handover.drawing.items import Drawing, SheetError
from core.handover.mirrored import mirrored_guard, mirrored_order
from core.handover.netlist import netlist
from core.handover.parts_list import parts_csv
from core.handover.sheet.diagram import placement_diagrams
from core.handover.template.template import templates
from core.handover.text.bonding_record import bonding_record
from core.handover.text.circuit_card import circuit_card
from core.handover.text.decision_record import decision_record
from core.handover.text.document import Document
from core.handover.text.lab_card import lab_card
from core.handover.text.markdown import document_markdown
from core.handover.text.netlist_page import netlist_document
from core.handover.text.pages import document_pages
from core.handover.text.parts_page import parts_document
from core.handover.text.process_card import process_card
from core.handover.text.purchasing import purchasing_sheet
from core.predict.prediction import Prediction, Remark
from core.project.model import Project
from core.study.temperature.temperature import TemperatureStudy
from core.study.tolerance.tolerance import ToleranceResult
from core.units.sentence import inside

Needs = Literal["nothing", "prediction", "temperature", "tolerance", "all candidates"]


@dataclass(frozen=True)
class Results:
    """What was computed for a project: predictions by candidate, studies of the chosen one."""

    predictions: Mapping[str, Prediction] = field(default_factory=dict)
    temperature: TemperatureStudy | None = None
    tolerance: ToleranceResult | None = None

    def of(self, candidate_id: str) -> Prediction | None:
        return self.predictions.get(candidate_id)


@dataclass(frozen=True)
class Order:
    """What is asked for: the project, the candidate, and the print of an earlier template."""

    project: Project
    candidate_id: str
    results: Results = Results()
    bar_along_mm: float | None = None
    bar_across_mm: float | None = None
    paper: str | None = None
    """Another paper than the sheet's own, for this print only: the project stays what was released."""

    @property
    def prediction(self) -> Prediction | None:
        return self.results.of(self.candidate_id)

    @property
    def remarks(self) -> tuple[Remark, ...]:
        return self.prediction.remarks if self.prediction else ()

    @property
    def open_voltage_v(self) -> float | None:
        """The largest voltage at the leads; None where nothing was computed or nothing makes one."""
        leads = self.prediction.leads if self.prediction else None
        return leads.largest.volts if leads else None


@dataclass(frozen=True)
class Kind:
    """A document: `key` names it in commands and files; `draw` makes its pages, `write` its text
    where it has one; `needs` says what must be computed before; `on_request` keeps it out of a whole
    hand-over: not every part has a mirrored one; the endings of `files` are among the formats."""

    key: str
    label: str
    receiver: str
    needs: Needs
    formats: tuple[str, ...]
    draw: Callable[[Order], tuple[Drawing, ...]]
    write: Callable[[Order], Document] | None = None
    on_request: bool = False
    files: Mapping[str, Callable[[Order], str]] = field(default_factory=dict)
    """What is no page: the text of a file by its ending."""


def _text(
    key: str, label: str, receiver: str, needs: Needs, write: Callable[[Order], Document],
    files: Mapping[str, Callable[[Order], str]] | None = None,
) -> Kind:
    def draw(order: Order) -> tuple[Drawing, ...]:
        return document_pages(write(order), order.paper or _to_read(order.project.sheet.paper))

    files = files or {}
    return Kind(key, label, receiver, needs, ("pdf", "md", "svg", "png", *files), draw, write, files=files)


def _to_read(paper: str) -> str:
    """Who draws on A3 reads on A4, unless A3 is asked for."""
    return "A4" if paper == "A3" else paper


def _sheet(order: Order) -> tuple[Drawing, ...]:
    return placement_diagrams(
        order.project,
        order.candidate_id,
        order.remarks,
        open_voltage_v=order.open_voltage_v,
        paper=order.paper,
    )


def _mirrored_sheet(order: Order) -> tuple[Drawing, ...]:
    return placement_diagrams(
        mirrored_order(order.project), order.candidate_id, order.remarks, open_voltage_v=order.open_voltage_v,
        guard=mirrored_guard(order.project, order.project.candidate(order.candidate_id)), paper=order.paper,
    )  # fmt: skip


def _mirrored_template(order: Order) -> tuple[Drawing, ...]:
    return templates(
        mirrored_order(order.project), order.candidate_id, bar_along_mm=order.bar_along_mm,
        bar_across_mm=order.bar_across_mm,
        guard=mirrored_guard(order.project, order.project.candidate(order.candidate_id)), paper=order.paper,
    )  # fmt: skip


def _template(order: Order) -> tuple[Drawing, ...]:
    return templates(
        order.project,
        order.candidate_id,
        paper=order.paper,
        bar_along_mm=order.bar_along_mm,
        bar_across_mm=order.bar_across_mm,
    )


def _process(order: Order) -> Document:
    return process_card(order.project, order.candidate_id, order.remarks, open_voltage_v=order.open_voltage_v)


def _purchasing(order: Order) -> Document:
    return purchasing_sheet(order.project, order.candidate_id, order.remarks)


def _parts(order: Order) -> Document:
    return parts_document(order.project, order.candidate_id, _predicted(order))


def _netlist(order: Order) -> Document:
    return netlist_document(order.project, order.candidate_id, _predicted(order))


def _predicted(order: Order) -> Prediction:
    if order.prediction is None:
        raise SheetError(f"Candidate {order.candidate_id} has no prediction: mend its inputs first.")
    return order.prediction


def _circuit(order: Order) -> Document:
    return circuit_card(order.project, order.candidate_id, _predicted(order), order.results.temperature)


def _record(order: Order) -> Document:
    return decision_record(
        order.project, order.candidate_id, order.results.predictions, order.results.temperature,
        order.results.tolerance,
    )  # fmt: skip


def _test(order: Order) -> Document:
    return lab_card(order.project, order.candidate_id, _predicted(order), order.results.tolerance)


def _bonding(order: Order) -> Document:
    return bonding_record(order.project, order.candidate_id, _predicted(order), order.results.tolerance)


KINDS: tuple[Kind, ...] = (
    Kind("sheet", "Placement diagram", "the shop", "prediction", ("pdf", "svg", "png", "dxf"), _sheet),
    Kind("template", "1:1 template", "the shop", "nothing", ("pdf", "svg", "dxf"), _template),
    _text("process", "Process card", "the bonding shop", "prediction", _process),
    _text("purchasing", "Purchasing and compliance", "purchasing", "prediction", _purchasing),
    _text("circuit", "Circuit card", "the electronics bench", "temperature", _circuit),
    _text("parts", "Parts list", "purchasing and the electronics bench", "prediction", _parts,
          {"csv": lambda order: parts_csv(_predicted(order))}),
    _text("netlist", "Netlist", "the electronics bench", "prediction", _netlist,
          {"cir": lambda order: netlist(_predicted(order))}),
    _text("test", "Test card", "the test lab", "tolerance", _test),
    _text("bonding", "Bonding record", "the bench", "tolerance", _bonding),
    _text("record", "Decision record", "the customer", "all candidates", _record),
    Kind(
        "mirrored-sheet", "Placement diagram, mirrored part", "the shop", "prediction",
        ("pdf", "svg", "png", "dxf"), _mirrored_sheet, on_request=True,
    ),
    Kind(
        "mirrored-template", "1:1 template, mirrored part", "the shop", "nothing", ("pdf", "svg", "dxf"),
        _mirrored_template, on_request=True,
    ),
)


def kind(key: str) -> Kind:
    """The document of that name; KeyError if there is none."""
    return {each.key: each for each in KINDS}[key]


def markdown_of(order: Order, which: Kind) -> str:
    """The document as Markdown; SheetError where it is a drawing."""
    if which.write is None:
        raise SheetError(f"The {inside(which.label)} is a drawing: it has no text to write. Choose PDF.")
    return document_markdown(which.write(order))
