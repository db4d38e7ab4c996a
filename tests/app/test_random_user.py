"""A random user: drags, types, wires, tunes, keeps, deletes, studies, undoes, redoes, saves.

After every step the shown numbers are those of a fresh prediction of what is shown, the project reads back
from its file as it was saved, and studies say of the present layout what the prediction says. At the end
undoing everything gives the first project back.
"""

from __future__ import annotations

import json
import math
import os
import random
from collections.abc import Callable

import numpy as np
import pytest
from msgspec.structs import replace
from PySide6.QtWidgets import QApplication, QLabel

from app.results.results_panel import ResultsPanel
from app.shell.session import Session
from core.circuit.registry import CIRCUITS
from core.handover.netlist import netlist
from core.handover.parts_list import parts_csv, parts_list
from core.measured.bonded_csv import bonded_csv, read_bonded
from core.measured.kept import measurement_of, with_measurement
from core.predict.predict import predict
from core.predict.remarks.problems import blocks_prediction, problems_of
from core.predict.report.report import prediction_json, prediction_text
from core.project import edit, library, store
from core.project.absorber_edits import add_absorber, without_absorber
from core.project.bonded import BondedMode, BondedPart, merged
from core.project.candidate import Build, Candidate, Circuit, Instrument, Tuning
from core.project.measurement import Bench, MeasuredFile
from core.project.model import Project
from core.project.patch import Patch
from core.study.placement.map_values import MapRequest
from core.study.placement.maps import placement_map
from core.study.placement.position import damping_against_position
from core.study.temperature.temperature import temperature_study
from tests.levels import beam_example

EXAMPLES = [key for key, _ in library.examples()]
STUDY_EVERY = 7
SCREEN_EVERY = 25
STUDY_TOLERANCE = 1e-3
"""Studies of many layouts against the single prediction, relative."""
SEARCHED_TOLERANCE = 0.01
"""The same where a tuned mass is searched for beside a circuit on its mode: three poles in one part by the cube root of what
rounding leaves of them."""


class User:
    """One person with one example; every step is drawn from the seed."""

    def __init__(self, key: str, seed: int) -> None:
        QApplication.instance() or QApplication([])
        self.dice = random.Random(f"{key} {seed}")
        # every second walk at the level of beams, where a step costs a third
        self.first = beam_example(key) if seed % 2 else library.example(key)
        self.session = Session(self.first)
        self.session.want_strip(False)
        self.done: list[str] = []
        self.held: tuple[object, object] = (None, None)
        """Prediction and project that were held against a fresh prediction last."""

    # ---- what a person does -----------------------------------------------------------------

    @property
    def project(self) -> Project:
        return self.session.project

    @property
    def candidate(self) -> Candidate:
        return self.project.candidate()

    def _place(self) -> float:
        return round(self.dice.uniform(-0.05, 1.05) * self.project.structure.span_m, 4)

    def _some_patch(self) -> Patch | None:
        return self.dice.choice(self.candidate.patches) if self.candidate.patches else None

    def _take_patch(self, **changes: object) -> None:
        patch = self._some_patch()
        if patch is not None:
            changed = replace(patch, **changes)
            self.session.apply("Patch", edit.with_patch(self.project, self.project.active, changed))

    def _take_group(self, **changes: object) -> None:
        if self.candidate.groups:
            group = replace(self.dice.choice(self.candidate.groups), **changes)
            self.session.apply("Group", edit.with_group(self.project, self.project.active, group))

    def drag(self) -> None:
        patch = self._some_patch()
        for _ in range(self.dice.randrange(1, 4)):
            if patch is not None:
                moved = replace(patch, x_start_m=self._place())
                self.session.preview(edit.with_patch(self.project, self.project.active, moved))
                QApplication.processEvents()

    def release(self) -> None:
        self.session.commit_preview("Move")

    def escape(self) -> None:
        self.session.cancel_preview()

    def type_a_place(self) -> None:
        self._take_patch(x_start_m=self._place())

    def type_a_length(self) -> None:
        self._take_patch(length_m=self.dice.choice((-0.005, 0.01, 0.02, 0.04, 0.06, 0.09)))

    def turn_over(self) -> None:
        self._take_patch(
            face=self.dice.choice(("top", "underside", "both")), pair_bending=self.dice.random() < 0.8
        )

    def choose_circuit(self) -> None:
        kind = CIRCUITS[self.dice.choice(list(CIRCUITS))]
        tuned = kind.closed_form is not None and self.dice.random() < 0.7
        values = {
            p.name: float(10 ** self.dice.uniform(math.log10(p.default) - 2, math.log10(p.default) + 2)) if p.default > 0.0 else 0.0
            for p in kind.parameters
        }
        tuning = Tuning(
            mode=self.dice.randrange(1, 4),
            rule=self.dice.choice(("closed form", "optimum")),
            goal=self.dice.choice(("damping", "peak", "mean square")),
        )
        circuit = replace(Circuit(), kind=kind.key, values=values, tuning=tuning if tuned else None)
        self._take_group(circuit=circuit)

    def build_from(self) -> None:
        build = Build(
            series=self.dice.choice(("exact", "E12", "E24", "E96")), pairs=self.dice.random() < 0.3,
            largest_coil_h=self.dice.choice((0.0, 1.0, 1e4)), supply_v=self.dice.choice((5.0, 15.0, 200.0)),
        )  # fmt: skip
        candidate = replace(self.project.candidate(), build=build)
        self.session.apply("Parts from", edit.with_candidate(self.project, candidate))

    def hand_parts_over(self) -> None:
        prediction = self.session.prediction
        if prediction is not None and prediction.groups:
            assert parts_csv(prediction).count("\n") == len(parts_list(prediction).lines) + 2
            assert netlist(prediction).endswith(".end\n")

    def hang_an_instrument_on(self) -> None:
        self._take_group(instrument=self.dice.choice((None, Instrument(), Instrument("probe", 1e7, 1e-10))))

    def wire_in_series(self) -> None:
        self._take_group(wiring=self.dice.choice(("parallel", "series")))

    def exchange_leads(self) -> None:
        patch = self._some_patch()
        if patch is not None:
            self.session.apply(
                "Leads", edit.with_leads_exchanged(self.project, self.project.active, patch.id)
            )

    def join(self) -> None:
        ids = tuple(group.id for group in self.candidate.groups)[:2]
        if len(ids) == 2:
            self.session.apply("Join", edit.join_groups(self.project, self.project.active, ids))

    def add(self) -> None:
        if len(self.candidate.patches) < 4:
            self.session.apply("Add", edit.add_patch(self.project, self.project.active))

    def remove(self) -> None:
        patch = self._some_patch()
        if patch is not None and not self.session.previewing:
            self.session.apply("Remove", edit.without_patch(self.project, self.project.active, patch.id))

    def hang_a_mass(self) -> None:
        absorbers = self.candidate.absorbers
        if self.session.previewing:
            return
        if absorbers and self.dice.random() < 0.4:
            gone = self.dice.choice(absorbers).id
            self.session.apply("No mass", without_absorber(self.project, self.project.active, gone))
        elif len(absorbers) < 2:
            x = round(self.dice.uniform(0.1, 1.0) * self.project.structure.span_m, 4)
            added, _ = add_absorber(self.project, self.project.active, x, 10 ** self.dice.uniform(-4, -1))
            self.session.apply("Mass", added)

    def measure(self) -> None:
        """A file that is not there, or what stood on the bench."""
        measurement = measurement_of(self.project)
        files = (MeasuredFile("pluck shorted.csv", "/nowhere/pluck shorted.csv", "", "shorted"),)
        bench = Bench(sensor_kg=self.dice.choice((0.0, 1e-3)))
        changed = replace(measurement, files=self.dice.choice(((), files)), bench=bench)
        self.session.apply("Change what was measured", with_measurement(self.project, changed))

    def read_a_part(self) -> None:
        """The bench reads a bonded part: it changes no prediction, and comes back from text as it was."""
        if self.session.previewing or not self.candidate.groups:
            return
        group = self.dice.choice(self.candidate.groups).id
        modes = (BondedMode(1, self.dice.uniform(5, 50)),) if self.dice.random() < 0.5 else ()
        part = BondedPart(str(self.dice.randrange(9)), self.candidate.id, group, self.dice.uniform(1e-9, 1e-6), modes=modes)
        groups = [g.id for g in self.candidate.groups]
        text = bonded_csv((part,), (1,), decimal_comma=self.dice.random() < 0.5)
        assert read_bonded(text.encode(), self.candidate.id, groups) == (part,)
        self.session.apply("Read a part", replace(self.project, bonded=merged(self.project.bonded, (part,))))

    def keep(self) -> None:
        if len(self.project.candidates) < 6:
            self.session.apply("Keep", edit.keep_candidate(self.project))

    def switch(self) -> None:
        other = self.dice.choice(self.project.candidates)
        self.session.apply("Switch", edit.set_active(self.project, other.id))

    def delete_candidate(self) -> None:
        if len(self.project.candidates) > 1:
            self.session.apply("Delete", edit.delete_candidate(self.project, self.project.active))

    def look_at(self) -> None:
        view = replace(
            self.project.view,
            modes_shown=self.dice.choice((1, 3, 5, 8)),
            before=self.dice.choice(("patch shorted", "bare structure")),
            output=self.dice.choice(("receptance", "mobility", "accelerance", "strain", "voltage")),
            output_x_m=self.dice.choice((None, 0.5 * self.project.structure.span_m)),
        )
        self.session.apply("View", edit.with_view(self.project, view))

    def load(self) -> None:
        active = self.dice.randrange(len(self.project.service.loads))
        warm = self.dice.choice((10.0, 20.0, 25.0))
        service = replace(
            self.project.service, active_load=active, cold_c=-20.0, reference_c=warm, hot_c=50.0
        )
        self.session.apply("Load", edit.with_service(self.project, service))

    def undo(self) -> None:
        self.session.undo_stack.undo()

    def redo(self) -> None:
        self.session.undo_stack.redo()

    DEEDS: tuple[tuple[Callable[[User], None], int], ...] = (
        (drag, 6), (release, 4), (escape, 1), (type_a_place, 4), (type_a_length, 2), (turn_over, 2),
        (choose_circuit, 6), (build_from, 2), (hand_parts_over, 2), (hang_an_instrument_on, 1), (wire_in_series, 2), (exchange_leads, 1), (join, 1),
        (add, 2), (remove, 1), (hang_a_mass, 2), (keep, 1), (switch, 2), (delete_candidate, 1), (look_at, 2), (load, 1), (undo, 3), (measure, 1),
        (read_a_part, 1), (redo, 1),
    )  # fmt: skip

    def walk(self, steps: int) -> None:
        deeds, weights = zip(*self.DEEDS, strict=True)
        for step in range(steps):
            (deed,) = self.dice.choices(deeds, weights)
            self.done.append(deed.__name__)
            try:
                deed(self)
                self.check()
                if step % STUDY_EVERY == 0:
                    self.study()
                if step % SCREEN_EVERY == 0:
                    self.compare_screens()
            except AssertionError as error:
                raise AssertionError(f"step {step} after {self.done[-12:]}: {error}") from error

    def leave(self) -> None:
        """Undo everything: the first project is back."""
        self.session.cancel_preview()
        while self.session.undo_stack.canUndo():
            self.session.undo_stack.undo()
        assert self.session.project == self.first
        self.session.close()

    # ---- what must hold ----------------------------------------------------------------------

    def check(self) -> None:
        ids = [patch.id for patch in self.session.shown.candidate().patches]
        assert self.session.selected_patch in ids or (not ids and self.session.selected_patch is None)
        assert store.loads(store.dumps(self.project)) == self.project
        if self.session.stale:
            assert self.session.problems
            return
        shown = self.session.prediction
        assert shown is not None
        if self.held[0] is shown and self.held[1] == self.session.shown:
            return
        self.held, fresh = (shown, self.session.shown), predict(self.session.shown)
        numbers = prediction_json(self.session.shown, shown)
        json.dumps(numbers, allow_nan=False)
        assert numbers == prediction_json(self.session.shown, fresh)
        assert prediction_text(self.session.shown, shown) == prediction_text(self.session.shown, fresh)
        assert np.array_equal(shown.response.after, fresh.response.after, equal_nan=True)

    def study(self) -> None:
        """Strip, map and temperature say of the layout what its prediction says."""
        project = self.project
        if (
            any(blocks_prediction(p) for p in problems_of(project, project.active))
            or not self.candidate.patches
        ):
            return
        found = predict(project)
        if found.unstable:
            return
        tuned = [group.circuit.tuning.mode for group in self.candidate.groups if group.circuit.tuning]
        if any(mode > len(found.modes) for mode in tuned):
            return  # a map knows the modes it is asked for, and tunes to no other
        for group in found.groups:  # no part of a release, and a page must not wait for them
            assert all(np.isfinite(price.cost) for price in group.prices)
        zeta = np.array([mode.zeta for mode in found.modes])
        patch = self._some_patch()
        assert patch is not None
        match self.dice.randrange(3):
            case 0:
                self._hold_strip(project, patch)
            case 1 if len(self.candidate.groups) == 1:  # a map tunes a group as if it hung there alone
                weights = tuple(1.0 if n == 0 else 0.0 for n in range(len(zeta)))
                here = MapRequest(
                    project.active,
                    patch.id,
                    "damping",
                    weights,
                    "length",
                    (patch.x_start_m,),
                    (patch.length_m,),
                )
                mapped = placement_map(project, here)
                if mapped is not None and mapped.best is not None:
                    assert mapped.best_value == pytest.approx(zeta[0], rel=self._near(), abs=1e-9)
            case _:
                at = temperature_study(project).at("reference")
                known = [mode.zeta for mode in at.modes]
                assert known == pytest.approx(zeta[: len(known)].tolist(), rel=self._near(), abs=1e-9)

    def _near(self) -> float:
        """How near studies come to the single prediction."""
        shunted = {group.circuit.tuning.mode for group in self.candidate.groups if group.circuit.tuning}
        searched = any(one.tuning and one.tuning.rule == "optimum" and one.tuning.mode in shunted for one in self.candidate.absorbers)
        return SEARCHED_TOLERANCE if searched else STUDY_TOLERANCE

    def _hold_strip(self, project: Project, patch: Patch) -> None:
        strip = damping_against_position(project, project.active, patch.id, n=24, modes=3)
        assert strip is not None
        for i in self.dice.sample(range(len(strip.x_start_m)), 2):
            moved = edit.with_patch(
                project, project.active, replace(patch, x_start_m=float(strip.x_start_m[i]))
            )
            if any(blocks_prediction(p) for p in problems_of(moved, moved.active)):
                continue
            alone = [mode.zeta for mode in predict(moved).modes[:3]]
            assert strip.zeta[i].tolist()[: len(alone)] == pytest.approx(alone, rel=self._near(), abs=1e-9)

    def compare_screens(self) -> None:
        """Every text of the results is that of a second session on the saved file."""
        self.session.cancel_preview()
        if self.session.stale:
            return
        again = Session(store.loads(store.dumps(self.project)))
        again.select_patch(self.session.selected_patch)
        again.want_strip(False)
        assert _texts(self.session) == _texts(again)
        again.close()


def _texts(session: Session) -> list[str]:
    panel = ResultsPanel(session)
    panel.resize(420, 900)
    panel.show()
    QApplication.processEvents()
    told = [label.text() for label in panel.findChildren(QLabel)]
    panel.close()
    panel.deleteLater()
    return told


@pytest.mark.parametrize("key", EXAMPLES)
def test_a_few_steps_of_a_random_user(key):
    user = User(key, 0)
    user.walk(10)
    user.leave()


LONG, SHORT, SHORTER = 1000, 600, {7, 8, 10}
"""Steps of a seed, and of those whose last steps are the dearest, which leave CI its time; `QUIETSPAN_STEPS` says otherwise."""


@pytest.mark.slow
@pytest.mark.timeout(0)
@pytest.mark.parametrize("seed", range(1, 11))
def test_many_steps_of_a_random_user(seed):
    """Ten seeds on every example."""
    user = User(EXAMPLES[seed % len(EXAMPLES)], seed)
    user.walk(int(os.environ.get("QUIETSPAN_STEPS", SHORT if seed in SHORTER else LONG)))
    user.leave()
