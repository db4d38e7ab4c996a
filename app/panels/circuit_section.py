"""What hangs on the selected patch's leads: its group, the circuit, the instrument."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from msgspec.structs import replace
from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.fields import ChoiceField, FormRow, QuantityField, SwitchField, quantity_for
from app.panels import edits, words
from app.panels.asked_fields import ModeListField
from app.panels.bound import BoundRow, EditorRow, ReadOut
from app.panels.members import MemberList
from app.panels.paths import value_at
from app.panels.section import set_shown
from app.panels.tuned_section import TunedSection
from core import units
from core.circuit import negative_capacitance
from core.circuit.kind import CircuitKind, Parameter, is_inductance
from core.circuit.registry import CIRCUITS
from core.circuit.start import start_values
from core.predict.group_result import GroupResult, PartValue
from core.project import edit
from core.project.candidate import Build, Candidate, Circuit, CircuitName, Group, Instrument, Tuning
from core.project.loop_edits import close_loop, open_loop, with_loop
from core.project.model import Project
from core.project.ranges import Range
from core.units import words as quantities

if TYPE_CHECKING:
    from app.shell.session import Session


def _parts_from(project: Project, path: str) -> tuple[str, bool]:
    build = value_at(project, path)
    return build.series, build.pairs


def _with_parts_from(project: Project, path: str, wanted: tuple[Literal["exact", "E12", "E24", "E96"], bool]) -> Project:
    series, pairs = wanted
    return edits.replaced_at(project, path, replace(value_at(project, path), series=series, pairs=pairs))


def _read_branches(project: Project, path: str) -> tuple[int, ...]:
    circuit: Circuit = value_at(project, path.rpartition(".")[0])
    return circuit.tuning.modes(CIRCUITS[circuit.kind].branches) if circuit.tuning else ()


def _with_branches(project: Project, path: str, modes: tuple[int, ...]) -> Project:
    tuning: Tuning = value_at(project, path)
    first, *further = modes or (tuning.mode,)
    return edits.replaced_at(project, path, replace(tuning, mode=first, further=tuple(further)))


def _has_instrument(project: Project, path: str) -> bool:
    return value_at(project, path) is not None


def _with_instrument(project: Project, path: str, on: bool) -> Project:
    return edits.replaced_at(project, path, Instrument() if on else None)


class CircuitSection(TunedSection):
    """Group, circuit and instrument of the selected patch."""

    loop_wanted = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, "Circuit", parent)
        self.members = MemberList(session, self.body)
        self.add(self.members)
        self.wiring = self.row("Wiring", ChoiceField("Wiring", words.WIRINGS), "{group}.wiring")
        self.join = ChoiceField[str]("Join with group", parent=self.body)
        self.join.setPlaceholderText("Join with another group...")
        self.join.chosen.connect(self._join)
        self.add(self.join)
        kinds = [(key, kind.label) for key, kind in CIRCUITS.items()]
        self.kind = self.row("C&ircuit", ChoiceField("Circuit", kinds), "{group}.circuit.kind",
                              write=self._with_kind)
        self.loop = EditorRow("Loop", "loop", "Active loop", parent=self.body)
        self.loop.wanted.connect(self.loop_wanted)
        self.add(self.loop)
        self.build_rule("{group}.circuit", "{group}.circuit.tuning", "Tuned on")
        self.parameters: dict[tuple[str, str], BoundRow] = {}
        self.in_effect: dict[tuple[str, str], ReadOut] = {}
        self.branches = self.row("Branches on modes", ModeListField("Branches on modes"), "{group}.circuit.tuning",
                                  read=_read_branches, write=_with_branches)
        self.values = QVBoxLayout()
        self.values.setSpacing(self.rows.spacing())
        self.rows.addLayout(self.values)
        self.parts = self.row("Parts from", ChoiceField("Parts from", words.PARTS), "{candidate}.build",
                              read=_parts_from, write=_with_parts_from)
        self.parts.field.setToolTip("Preferred values of IEC 60063; everything is predicted with the parts")
        self._build_board()
        self.capacitance = self.add(ReadOut("Capacitance"))
        self._build_instrument()
        self.build_findings("circuit remarks")

    # -- building ------------------------------------------------------------------------------

    def _value_row(self, kind: CircuitKind, parameter: Parameter, follows: bool) -> FormRow:
        """The row of a value, typed or told; made when the kind is first shown: there are many kinds."""
        key = (kind.key, parameter.name)
        if key not in self.parameters:
            for one in kind.parameters:
                self._build_parameter(kind, one)
            self.take_in([self.parameters[kind.key, one.name] for one in kind.parameters], self.branches.field)
        return self.in_effect[key] if follows else self.parameters[key]

    def _build_parameter(self, kind: CircuitKind, parameter: Parameter) -> None:
        key = (kind.key, parameter.name)
        field = QuantityField(Range(parameter.unit, parameter.low, parameter.high), parameter.label)
        path = f"{{group}}.circuit.values.{parameter.name}"
        self.parameters[key] = BoundRow(
            self.session, parameter.label, field, path, parent=self.body, origin=True, read=_value_or_default
        )
        self.in_effect[key] = ReadOut(parameter.label, parent=self.body)
        for row in (self.parameters[key], self.in_effect[key]):
            row.hide()
            self.values.addWidget(row)

    def _build_board(self) -> None:
        """What coils and amplifiers there are to build from."""
        self.largest_coil, self.coil_time, self.supply, self.bandwidth = (
            self.row(label, quantity_for(f"build.{name}"), f"{{candidate}}.build.{name}")
            for label, name in (
                ("Largest coil", "largest_coil_h"),
                ("Coil, L over R", "coil_time_s"),
                ("Amplifiers on \N{PLUS-MINUS SIGN}", "supply_v"),
                ("Gain-bandwidth", "gain_bandwidth_hz"),
            )
        )
        self.coil_time.field.setToolTip("Inductance over winding resistance that a coil of your make has")

    def _build_instrument(self) -> None:
        self.instrument = self.row("Instrument", SwitchField("Instrument", "on the leads"),
                                    "{group}.instrument", read=_has_instrument, write=_with_instrument)
        self.input_r = self.row("Input resistance", quantity_for("instrument.resistance_ohm"),
                                 "{group}.instrument.resistance_ohm", origin=True)
        self.input_c = self.row("Cable capacitance", quantity_for("instrument.capacitance_f"),
                                 "{group}.instrument.capacitance_f", origin=True)

        field = quantity_for("groups.bleed_ohm", optional=True, hint="none")
        field.setToolTip("Stays across the leads on the patches' side of the connector, so that open leads lose their charge.")
        self.bleed = self.row("Bleed resistor", field, "{group}.bleed_ohm", origin=True)

    # -- showing -------------------------------------------------------------------------------

    def group(self, project: Project) -> Group | None:
        """The group of the selected patch."""
        return edits.group_of(project, self.session.selected_patch)

    def places(self, project: Project) -> dict[str, str] | None:
        group = self.group(project)
        if group is None:
            return None
        return {"group": edits.group_path(project, group.id), "candidate": f"candidates[{project.active}]"}

    def result(self) -> GroupResult | None:
        """What the last good prediction says about the group."""
        prediction, group = self.session.prediction, self.group(self.session.shown)
        if prediction is None or group is None:
            return None
        return next((result for result in prediction.groups if result.id == group.id), None)

    def drawn_from(self, project: Project) -> tuple[object, ...]:
        candidate = project.candidate()
        return candidate.groups, candidate.build, project.origins, project.view.modes_shown, self.session.selected_patch

    def update_rows(self, project: Project) -> None:
        group = self.group(project)
        self.members.refresh(group)
        if group is None:
            self.remark.setText("no patch selected")
            return
        self.remark.setText(f"group {group.id}")
        self._offer_joining(project, group)
        self.refresh_results()

    def show_rows(self, project: Project) -> None:
        """Only the rows that count for the group's circuit are visible."""
        group = self.group(project)
        shown = self._rows_shown(group, project.candidate().build) if group is not None else set()
        for row in self.form_rows():
            set_shown(row, row in shown)
        set_shown(self.join, group is not None and len(project.candidate().groups) > 1)
        if group is None:
            self.show_findings(())
            return
        self.offer_modes(project, group.circuit.tuning)
        part = _part_in_loop(project.candidate(), group)
        set_shown(self.loop, bool(part))
        self.loop.tell(part)

    def _rows_shown(self, group: Group, build: Build) -> set[FormRow]:
        circuit = group.circuit
        tunable = circuit.kind in CIRCUITS and CIRCUITS[circuit.kind].closed_form is not None
        by_itself = tunable and CIRCUITS[circuit.kind].worked_out
        shown: set[FormRow] = {self.kind, self.capacitance, self.bleed, self.instrument}
        if len(group.members) > 1:
            shown.add(self.wiring)
        if tunable and not by_itself:
            shown.add(self.follows)
            shown |= self.rule_rows(circuit.tuning)
        if tunable and circuit.tuning is not None and CIRCUITS[circuit.kind].branches > 1:
            shown = (shown - {self.mode}) | {self.branches}
        if by_itself and circuit.tuning is not None:
            shown.add(self.mode)
        if circuit.kind in CIRCUITS:
            shown |= self._value_rows(CIRCUITS[circuit.kind], circuit, build)
        if group.instrument is not None:
            shown |= {self.input_r, self.input_c}
        return shown

    def _value_rows(self, kind: CircuitKind, circuit: Circuit, build: Build) -> set[FormRow]:
        """Values that a rule sets are told, all others are typed; with preferred parts every one is told too."""
        tuned = kind.tuned if circuit.tuning is not None else ()
        shown: set[FormRow] = set()
        for parameter in kind.parameters:
            if kind.worked_out and parameter.name in kind.tuned:
                continue
            follows = parameter.name in tuned
            if follows or (build.series != "exact" and parameter.is_part):
                shown.add(self._value_row(kind, parameter, True))
            if not follows:
                shown.add(self._value_row(kind, parameter, False))
        if any(p.is_part for p in kind.parameters):
            shown.add(self.parts)
        return shown | self._board_rows(kind, build)

    def _show_board(self) -> None:
        """Rows for coils and amplifiers, once the values in effect say which there are."""
        project = self.session.shown
        group = self.group(project)
        kind = None if group is None else CIRCUITS.get(group.circuit.kind)
        shown = set() if kind is None else self._board_rows(kind, project.candidate().build)
        for row in (self.largest_coil, self.coil_time, self.supply, self.bandwidth):
            set_shown(row, row in shown)

    def _board_rows(self, kind: CircuitKind, build: Build) -> set[FormRow]:
        """Coils where there is an inductor, amplifiers where they take its place or feed."""
        sizes = [v.value for v in result.values if is_inductance(v.name)] if (result := self.result()) else []
        shown: set[FormRow] = {self.largest_coil} if kind.resonates else set()
        if any(size <= build.largest_coil_h for size in sizes) and kind.resonates:
            shown.add(self.coil_time)
        if (kind.active and kind.parameters and not kind.worked_out) or (kind.resonates and any(size > build.largest_coil_h for size in sizes)):
            shown |= {self.supply, self.bandwidth}
        return shown

    def _offer_joining(self, project: Project, group: Group) -> None:
        others = [other for other in project.candidate().groups if other.id != group.id]
        self.join.set_options([
            (other.id, f"Join with {other.id} ({', '.join(m.patch for m in other.members)})")
            for other in others
        ])
        self.join.set_value(None)

    def refresh_results(self, *, rests: bool = False) -> None:
        """Values in effect, capacitance and remarks of the last good prediction; remarks, which ask for the cold and
        the hot part too, wait for the hand to rest."""
        result = self.result()
        if result is None:
            self.capacitance.tell("not predicted yet")
            self.show_findings(())
            return
        if not rests and not self.session.tells_loads:
            return  # a label that says something else asks for a layout of the panel: not in every frame of a drag
        blocked, free = (quantities.capacitance(c) for c in (result.blocked_capacitance_f, result.free_capacitance_f))
        self.capacitance.tell(f"{blocked}, free {free}")
        if not self.session.previewing:
            self._show_board()
        for value in result.values:
            row = self.in_effect.get((result.circuit, value.name))
            if row is not None:
                row.tell(_in_effect(value))
        if rests or not self.session.previewing:
            self.show_findings(result.remarks)

    # -- changes ---------------------------------------------------------------------------------

    def _with_kind(self, project: Project, path: str, name: CircuitName) -> Project:
        """Another circuit kind: its values as they were given before, else where they suit the patches. One that must stay
        on its side of a limit begins there whatever it was."""
        place, kind, result = path.rpartition(".")[0], CIRCUITS[name], self.result()
        group = self.group(project)
        before = None if group is None or group.circuit.kind != "loop" else group.before_loop
        if before is not None and before.circuit.kind == name:
            return open_loop(project)
        if name == "loop" and group is not None:
            wanted = with_loop(project, driven=group.id)
            if wanted.candidate().loop_ends is not None:
                return close_loop(wanted)
        circuit: Circuit = value_at(project, place)
        start = start_values(kind, result.blocked_capacitance_f, result.free_capacitance_f) if result else {}
        limited = {n: v for n, v in start.items() if n == negative_capacitance.NAME}
        values = kind.complete({**start, **circuit.values, **limited})
        return edits.replaced_at(project, place, Circuit(name, values, edits.tuning_for(name, circuit)))

    @Slot(object)
    def _join(self, other_id: object) -> None:
        group = self.group(self.session.project)
        if group is not None and other_id is not None:
            project = self.session.project
            joined = edit.join_groups(project, project.active, (group.id, str(other_id)))
            self.session.apply("Join groups", joined)

    def write_follows(self, project: Project, path: str, follows: bool) -> Project:
        result = self.result()
        in_effect = {value.name: value.value for value in result.values} if result else {}
        return edits.with_tuning(project, path, follows, in_effect)


def _part_in_loop(candidate: Candidate, group: Group) -> str:
    """ "driven, G2 listens"; "listens, G1 is driven"; nothing for a group that a closed loop has nothing to do with."""
    ends = candidate.loop_ends if candidate.loop_is_closed else None
    if ends is None:
        return ""
    sensing, driven = (candidate.groups[g].id for g in ends)
    return {driven: f"driven, {sensing} listens", sensing: f"listens, {driven} is driven"}.get(group.id, "")


def _value_or_default(project: Project, path: str) -> float:
    """The circuit's value, or the registry's default for one that was never given."""
    place, _, name = path.rpartition(".values.")
    circuit: Circuit = value_at(project, place)
    kind = CIRCUITS.get(circuit.kind)
    return (kind.complete(circuit.values) if kind else circuit.values).get(name, 0.0)


def _in_effect(value: PartValue) -> str:
    """The value, or what was wanted and the part taken for it."""
    if value.wanted is None:
        return _scaled(value.value, value.unit)
    return quantities.change(_scaled(value.wanted, value.unit), _scaled(value.value, value.unit))


def _scaled(value_si: float, unit: str) -> str:
    """Number with the prefix that suits it, whichever unit it was told in."""
    base = {"kohm": "ohm", "Mohm": "ohm", "mH": "H", "nF": "F", "uF": "F", "pF": "F"}.get(unit, unit)
    if base in ("ohm", "H", "F", "V"):
        return quantities.part(value_si, base)
    return units.show_with_unit(value_si, unit, significant=4)
