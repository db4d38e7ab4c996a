"""The schematic says what hangs on the leads: every part with its value, and nothing over another."""

from __future__ import annotations

import dataclasses
import os
import subprocess
import sys
from math import pi
from xml.etree import ElementTree

import msgspec
import pytest

from core.circuit.network import COMMON, LEAD, Part
from core.circuit.realise import realised
from core.circuit.registry import CIRCUITS
from core.handover.drawing.items import Text
from core.handover.drawing.lettering import text_width_mm
from core.handover.schematic.figure import schematic_figure
from core.handover.schematic.layout import Plate, Shape, laid_out
from core.handover.schematic.picture import TEXT, Ink, Schematic
from core.handover.schematic.schematic import RUNS_AWAY, schematic
from core.handover.schematic.svg import Style, schematic_svg
from core.handover.schematic.tree import Parallel, Series, tree_of
from core.handover.sheet.layout import Box
from core.predict.electrics.board import components
from core.predict.predict import predict
from core.project import library
from core.project.candidate import Build, Circuit, Instrument, Member, Tuning
from core.project.model import Project
from core.units import words

R, L, C = (Part(name, what, 1.0, (LEAD, COMMON)) for name, what in zip("RLC", ("resistor", "inductor", "capacitor"), strict=True))
STYLE = Style(dict.fromkeys(Ink.__args__, "#123456"), "#ffffff", "sans-serif")
HOLDING_F = {"negative C series R": 1.5e-7, "negative C parallel R": 5e-8}


def with_circuit(kind: str, instrument: Instrument | None = None, **values: float) -> Project:
    """The lab beam with that on the leads of its first group."""
    project = library.example("lab-beam")
    candidate = project.candidate()
    if kind in HOLDING_F:
        values = {"negative_capacitance_f": HOLDING_F[kind], **values}
    circuit = Circuit(kind=kind, values=CIRCUITS[kind].complete(values))
    group = msgspec.structs.replace(candidate.groups[0], circuit=circuit, instrument=instrument)
    return with_group(project, group)


def with_group(project: Project, group) -> Project:
    candidate = project.candidate()
    new = msgspec.structs.replace(candidate, groups=(group, *candidate.groups[1:]))
    return msgspec.structs.replace(project, candidates=tuple(new if c.id == new.id else c for c in project.candidates))


def drawn(project: Project, volts: str = "") -> Schematic:
    prediction = predict(project, project.active)
    return schematic(project, prediction, prediction.groups[0].id, volts)


@pytest.mark.parametrize("key", CIRCUITS)
def test_a_kind_draws_every_value_it_has(key):
    project = with_circuit(key)
    prediction = predict(project, project.active)
    told = schematic(project, prediction, prediction.groups[0].id, "12.6 V").words
    for value in prediction.groups[0].values:
        if value.name.startswith("equivalent") or (value.value == 0.0 and value.name != "resistance_ohm"):
            continue  # what a switch amounts to, and what a coil does not lose, is no part
        text = words.share(value.value) if value.name == "inversion_ratio" else words.part(value.value, value.unit)
        if value.name == "inversion_ratio":
            text = f"inverts {text}"
        assert (f"{words.MINUS}{text}" if value.name == "negative_capacitance_f" else text) in told
    assert {"P1", "J1", "12.6 V"} <= set(told)


@pytest.mark.parametrize("key", CIRCUITS)
def test_no_lettering_lies_over_another_or_past_the_edge(key):
    project = with_circuit(key, Instrument(capacitance_f=1e-10))
    prediction = predict(project, project.active)
    picture = schematic(project, prediction, prediction.groups[0].id, "12.6 V", with_swing=True)
    boxes = []
    for label in picture.labels:
        wide = text_width_mm(label.text, TEXT, label.bold)
        left = label.at[0] - {"start": 0.0, "middle": wide / 2, "end": wide}[label.anchor]
        boxes.append((left, label.at[1] - 0.73 * TEXT, left + wide, label.at[1], label.text))
    for n, (left, top, right, bottom, text) in enumerate(boxes):
        assert left > 0 and right < picture.width and top > 0 and bottom < picture.height, text
        for other in boxes[n + 1 :]:
            apart = right <= other[0] or other[2] <= left or bottom <= other[1] or other[3] <= top
            assert apart, (text, other[4])


@pytest.mark.parametrize(("kind", "part"), [("series R-L", "L"), ("parallel R-L + C", "L"), ("negative C series R", "Cn")])
def test_what_amplifiers_simulate_is_drawn_with_the_parts_of_the_list(kind, part):
    project = with_circuit(kind)
    prediction = predict(project, project.active)
    values = {value.name: value.value for value in prediction.groups[0].values}
    build = project.candidate().build
    ideal = next(one for one in CIRCUITS[kind].network(values) if one.name == part)
    omega = 2 * pi * prediction.modes[prediction.solved.serves[0]].f_short_hz
    told = drawn(project).words
    for one in realised((ideal,), build, omega):
        assert one.name in told
        if one.what != "amplifier":
            assert words.engineering(one.value, "F" if one.what == "capacitor" else "ohm") in told
    wound = msgspec.structs.replace(project.candidate(), build=msgspec.structs.replace(build, largest_coil_h=1e6))
    if part == "L":
        plain = drawn(msgspec.structs.replace(project, candidates=(wound, *project.candidates[1:]))).words
        assert "L" in plain and not any("N1" in word for word in plain)


@pytest.mark.parametrize("kind", ["series R-L", "negative C parallel R", "current-flowing 2"])
def test_each_amplifier_tells_how_far_the_worst_load_swings_it(kind):
    """At its output, as the parts list has it; branches on the return are all drawn with their amplifiers."""
    project = with_circuit(kind)
    prediction = predict(project, project.active)
    picture = schematic(project, prediction, prediction.groups[0].id, "12.6 V", with_swing=True)
    amplifiers = [one for one in prediction.solved.board.loads if one.component.what == "amplifier"]
    assert len(amplifiers) == {"series R-L": 2, "negative C parallel R": 1, "current-flowing 2": 4}[kind]
    for one in amplifiers:
        assert one.component.name in picture.words and words.voltage(one.volts) in picture.words
    assert not set(map(words.voltage, (one.volts for one in amplifiers))) & set(drawn(project, "12.6 V").words)


def test_coils_on_each_other_are_said_to_be_simulated():
    """One floats, which takes two chains, the other has no room for its own: they stand in the list."""
    picture = drawn(with_circuit("series-parallel 2"))
    assert picture.words.count("simulated") == 2 and not any("N1" in word for word in picture.words)


def test_an_unstable_circuit_has_no_volts():
    project = with_circuit("negative C series R", negative_capacitance_f=1e-9)
    told = drawn(project).words
    assert RUNS_AWAY in told
    assert not any(word.endswith(" V") and not word.startswith("±") for word in told)


def test_the_dot_tells_which_lead_goes_where():
    """A bending pair is joined the other way round below; a member turned round lies with its dot down."""
    project = library.example("lab-beam")
    group = project.candidate().groups[0]
    patch = msgspec.structs.replace(project.candidate().patches[0], face="both", pair_bending=True)
    candidate = msgspec.structs.replace(project.candidate(), patches=(patch,))
    project = msgspec.structs.replace(
        project, candidates=tuple(candidate if c.id == candidate.id else c for c in project.candidates)
    )
    turned = msgspec.structs.replace(group, members=(Member(patch.id, -1),))
    for used, upper_dots in ((group, {"top": True}), (turned, {"under": True})):
        picture = drawn(with_group(project, used))
        assert {"top", "under"} <= set(picture.words)
        for disc in picture.discs:
            for name, left, base in ((lab.text, *lab.at) for lab in picture.labels if lab.anchor == "start"):
                right = left + text_width_mm(name, TEXT)
                apart = not (left < disc.centre[0] + disc.radius and disc.centre[0] - disc.radius < right)
                assert apart or not base - 0.7 * TEXT < disc.centre[1] < base, name
        middle = {label.text: label.at for label in picture.labels if label.text in ("top", "under")}
        for face, (x, y) in middle.items():
            own = [d for d in picture.discs if d.filled and abs(d.centre[0] - x) < 0.8 and d.radius == 0.11]
            # the name of the face stands below the ceramic
            above = [d for d in own if d.centre[1] < y - 1.5]
            assert bool(above) == upper_dots.get(face, False), face


def test_patches_in_series_stand_on_each_other_and_patches_in_parallel_beside():
    plates = (Plate("P1", "", True), Plate("P2", "", True))
    for in_series in (True, False):
        bare = laid_out(Shape(plates, in_series, R)).bare
        first, second = (next(lab.at for lab in bare.labels if lab.text == name) for name in ("P1", "P2"))
        assert (first[0] == second[0]) == in_series and (first[1] == second[1]) != in_series


def test_laying_out_is_remembered_while_only_values_change():
    shape = Shape((Plate("P1", "", True),), False, Series((R, L)))
    same = Shape((Plate("P1", "", True),), False, Series((R, L)))
    assert laid_out(shape) is laid_out(same)
    first, second = laid_out(shape).filled({"R": "1 kΩ"}), laid_out(shape).filled({"R": "2 kΩ"})
    assert first.strokes == second.strokes and "1 kΩ" in first.words and "2 kΩ" in second.words


def test_screen_and_paper_show_the_same_words():
    picture = drawn(with_circuit("parallel R-L + C"))
    svg = ElementTree.fromstring(schematic_svg(picture, STYLE))
    on_screen = sorted(one.text for one in svg.iter("{http://www.w3.org/2000/svg}text"))
    figure = schematic_figure(picture, "", 178.0)
    on_paper = [item for item in figure.draw(Box(0, 0, 178, figure.height_mm)) if isinstance(item, Text)]
    assert on_screen == sorted(item.text for item in on_paper) == sorted(picture.words) == sorted(figure.words)
    assert all(0 < item.at[0] < 178 and 0 < item.at[1] < figure.height_mm for item in on_paper)


def between(*parts: tuple[Part, str, str]) -> tuple[Part, ...]:
    """Parts, each between two nodes."""
    return tuple(dataclasses.replace(part, ends=(a, b)) for part, a, b in parts)


def shape_of(tree) -> object:
    """The names in a tree: a list is in series, a set in parallel."""
    if isinstance(tree, Part):
        return tree.name
    return [shape_of(t) for t in tree.parts] if isinstance(tree, Series) else {str(shape_of(t)) for t in tree.parts}


def test_a_network_of_nodes_comes_down_to_series_and_parallel_from_the_lead():
    ladder = between((L, "a", LEAD), (C, COMMON, "a"), (R, "a", COMMON))
    assert shape_of(tree_of(ladder)) == ["L", {"C", "R"}]
    chain = between((R, "b", COMMON), (L, LEAD, "a"), (C, "b", "a"))
    assert shape_of(tree_of(chain)) == ["L", "C", "R"]
    assert shape_of(tree_of(between((R, LEAD, COMMON), (C, "a", COMMON), (L, "a", LEAD)))) == {"R", "['L', 'C']"}
    assert tree_of(()) == Parallel(())


def test_a_bridge_is_told():
    names = iter("abcde")
    ends = ((LEAD, "p"), (LEAD, "q"), ("p", "q"), ("p", COMMON), ("q", COMMON))
    bridge = tuple(Part(next(names), "resistor", 1.0, pair) for pair in ends)
    with pytest.raises(ValueError, match="a, b, c, d, e"):
        tree_of(bridge)


def test_no_plotting_library_is_loaded_for_symbols(tmp_path):
    """Where one is installed the drawing library would load it, for seconds."""
    (tmp_path / "matplotlib").mkdir()
    (tmp_path / "matplotlib" / "__init__.py").write_text("raise RuntimeError('loaded')")
    code = (
        "import sys, core.handover.schematic.sheet; assert 'matplotlib' not in sys.modules; "
        "import importlib.util as u; assert u.find_spec('matplotlib') is not None"
    )
    paths = os.pathsep.join([str(tmp_path), *sys.path])
    subprocess.run([sys.executable, "-c", code], check=True, env={**os.environ, "PYTHONPATH": paths})


def test_the_drawing_has_the_very_components_of_the_board():
    """A gyrator's decades go with the mode that its own branch serves: here the second one's on mode 4."""
    project = with_circuit("current-flowing 2")
    candidate = project.candidate()
    circuit = Circuit("current-flowing 2", tuning=Tuning(1, further=(4,)))
    group = msgspec.structs.replace(candidate.groups[0], circuit=circuit)
    changed = msgspec.structs.replace(candidate, groups=(group,), build=Build(largest_coil_h=0.0))
    project = msgspec.structs.replace(project, candidates=(changed, *project.candidates[1:]))
    told = [label.text for label in drawn(project).labels]
    simulating = [part for part in components(predict(project).solved, 0) if part.of in ("L1", "L2") and part.what != "amplifier"]
    assert len(simulating) == 10
    for part in simulating:
        value = words.engineering(part.value, "F" if part.what == "capacitor" else "ohm")
        assert told[told.index(part.name) + 1] == value


def test_a_switch_on_an_inductor_that_inverts_nothing_is_drawn():
    assert drawn(with_circuit("switched inductor", inversion_ratio=0.0)).labels
