"""What a sheet says, what it refuses, and what must never stand on it."""

from __future__ import annotations

import re

import numpy as np
import pytest
from msgspec.structs import replace

from core.handover.drawing.items import Drawing, SheetError, Text
from core.handover.drawing.strokes import strokes
from core.handover.sheet.diagram import placement_diagram, placement_diagrams
from core.handover.sheet.identity import fingerprint
from core.handover.sheet.notes import EXTRA_DROP
from core.handover.sheet.package_data import largest_clamping_drop
from core.handover.sheet.subject import faces_used
from core.predict.electrics.leads import rounded_up
from core.predict.prediction import Remark
from core.project import library
from core.project.model import Project
from core.project.sheet import Revision
from core.project.structure import DatumFeature
from core.study.tolerance.pass_bands import PassBands, Reading
from core.study.tolerance.tolerance import tolerance_study
from tests.core.handover.sheet_scenes import lab, on_paper, patch, scenes, with_patches

FORBIDDEN = re.compile(r"\bK\^?2\b|K²|\bdB\b|\bHz\b(?<!1 kHz)|mode shape|damping ratio|zeta|ζ|coupling", re.I)


def words(drawing: Drawing) -> str:
    """All text of a sheet as one line."""
    return " ".join(p.text for item in drawing.items for p in strokes(item) if isinstance(p, Text))


def all_words(project: Project, *, face: str | None = None, **options) -> str:
    """All text of the sheets of a face, its notes included, lines joined as they are read."""
    drawings = placement_diagrams(project, **options)
    if face is not None:
        drawings = tuple(d for d in drawings if f", {face} face" in d.title)
    return " ".join(words(drawing) for drawing in drawings)


def with_datum(project: Project, datum: str | None, *datums: DatumFeature) -> Project:
    structure = replace(project.structure, datums=datums)
    return replace(project, structure=structure, sheet=replace(project.sheet, datum=datum))


# ---- datum -----------------------------------------------------------------------------------


def test_a_datum_nobody_can_touch_is_refused():
    project = with_datum(lab(), "clamp line", DatumFeature("clamp line", 0.0, touchable=False))
    with pytest.raises(SheetError, match=r"'clamp line' cannot be touched.*Add a datum feature"):
        placement_diagram(project)


def test_without_a_choice_the_sheet_never_starts_from_the_support():
    project = with_datum(
        lab(), None, DatumFeature("clamp line", 0.0, touchable=False), DatumFeature("dowel", 0.1)
    )
    with pytest.raises(SheetError, match=r"No datum is chosen.*Choose one of: dowel\."):
        placement_diagram(project)


def test_without_a_choice_a_touchable_tip_edge_serves():
    project = with_datum(lab(), None, DatumFeature("dowel", 0.1), DatumFeature("cut end", 0.3))
    assert "A: cut end." in words(placement_diagram(project))


def test_a_datum_that_is_gone_is_named():
    project = with_datum(lab(), "old hole", DatumFeature("dowel", 0.1))
    with pytest.raises(SheetError, match=r"no datum feature 'old hole'.*Choose one of: dowel\."):
        placement_diagram(project)


# ---- refusals --------------------------------------------------------------------------------


def test_a_candidate_without_a_patch_makes_no_sheet():
    with pytest.raises(SheetError, match="Candidate A has no patch"):
        placement_diagram(with_patches(lab()))


def test_an_unknown_candidate_is_told_with_those_there_are():
    with pytest.raises(SheetError, match=r"no candidate Z. Choose one of: A"):
        placement_diagram(lab(), "Z")


def test_a_patch_off_the_part_makes_no_sheet():
    project = with_patches(lab(), patch(lab(), x_start_m=0.28))
    with pytest.raises(SheetError, match=r"The sheet waits for this: .*P1"):
        placement_diagram(project)


def test_a_face_without_patch_has_no_sheet():
    with pytest.raises(SheetError, match=r"Nothing lies on the underside face. Sheets exist for: top"):
        placement_diagram(lab(), face="underside")


def test_a_cure_hotter_than_the_package_stands_is_refused():
    project = lab()
    project = replace(project, sheet=replace(project.sheet, cure="Cure 1 h at 120 °C under a soft pad."))
    with pytest.raises(SheetError, match=r"says 120 °C.*at most 85 °C.*Lower the cure"):
        placement_diagram(project)


# ---- what must be there ----------------------------------------------------------------------


@pytest.mark.parametrize("key", [key for key, _ in library.examples()])
def test_every_example_names_its_faces_and_its_guard(key):
    for face in faces_used(library.example(key).candidate()):
        text = all_words(library.example(key), face=face)
        face = re.search(r"FACE SHOWN: (TOP|UNDERSIDE) \(([^)]*)\)", text)
        assert face and "____" not in face[2]
        assert "AS DRAWN. The mirrored part has a sheet of its own." in text
        for needed in (
            "CAUTION", "Brittle", "Contains lead", "support, ref.", "Bond line 0.050 ± 0.025", "Never above",
            "1 kHz", "shorted by the supplied clip", "licensed practice", "ISO 2768",
        ):  # fmt: skip
            assert needed in text, needed


def test_polarity_is_told_by_a_press_for_each_face():
    top, under = (all_words(scenes()["pair"], face=face) for face in ("top", "underside"))
    assert "Press the tip down by hand: the dot of a top-face patch goes positive." in top
    assert "Press the tip down, top face up, by hand: the dot of an underside patch goes negative." in under


def test_a_part_held_at_both_ends_gets_a_bend_test_instead():
    text = all_words(scenes()["held at both ends"])
    assert "Press the tip" not in text
    assert "stretched: the dot goes positive" in text


def test_each_face_has_its_own_numbered_sheets():
    drawings = placement_diagrams(scenes()["pair"])
    faces = [re.search("FACE SHOWN: (TOP|UNDERSIDE)", words(drawing))[1] for drawing in drawings]
    assert faces == sorted(faces) and set(faces) == {"TOP", "UNDERSIDE"}
    assert [drawing.title.endswith("notes") for drawing in drawings].count(False) == 2
    for n, drawing in enumerate(drawings, start=1):
        assert f"{n} / {len(drawings)}" in words(drawing)
    assert "P1 top dot and underside unmarked lead to +" in all_words(scenes()["pair"], face="top")


def test_notes_that_go_on_are_told_and_none_is_lost():
    first, second = placement_diagrams(on_paper(lab(), "A4"))
    assert "notes go on, sheet 2" in words(first) and "notes go on" not in words(second)
    (large,) = placement_diagrams(on_paper(lab(), "A3"))
    for block in ("Datums and dimensions", "Bond", "Polarity", "Leads", "Keep clear", "Inspect"):
        assert block in words(large) and block in words(first) + words(second)


def test_the_capacitance_is_that_of_the_plate():
    # eps_r 1700, 50 x 25 x 0.25 mm: 8.8542e-12 * 1700 * 0.05 * 0.025 / 0.25e-3 = 75.26 nF
    assert "75.3 nF ± 20 % (60.2 to 90.3 nF)" in all_words(lab())


def test_keep_outs_are_measured_from_the_datum():
    text = all_words(scenes()["keep-outs and cut-outs"])
    assert "Z2 cable run: 97.0 to 100.0 from A, full width." in text
    assert "Z1 bolt circle of the cover: 140.0 to 180.0 from A, 5.0 to 27.0 from B." in text


def test_title_block_shows_the_last_revision_and_what_it_supersedes():
    revisions = (Revision("A", "2026-03-02", "first issue"), Revision("B", "2026-03-09", "moved 4 mm"))
    project = replace(lab(), sheet=replace(lab().sheet, revisions=revisions))
    texts = [p.text for i in placement_diagram(project).items for p in strokes(i) if isinstance(p, Text)]
    assert texts[texts.index("Revision") + 1] == "B"
    assert texts[texts.index("Supersedes") + 1] == "A"
    assert "moved 4 mm" in texts


def test_the_fingerprint_follows_the_model_and_not_the_title():
    project = lab()
    before = fingerprint(project, project.candidate())
    titled = replace(project, sheet=replace(project.sheet, title="another"), notes="new")
    shifted = with_patches(project, patch(project, x_start_m=0.006))
    assert before in words(placement_diagram(project))
    assert fingerprint(titled, titled.candidate()) == before
    assert fingerprint(shifted, shifted.candidate()) != before


def test_voltage_is_rounded_up_and_generic_when_unknown():
    assert [rounded_up(v) for v in (137.2, 140.0, 99.1, 7.2)] == ["140", "140", "100", "8"]
    assert "Gives up to 140 V when bent, struck, heated or cooled" in words(placement_diagram(lab(), open_voltage_v=137.2))
    assert "Gives hundreds of volts" in words(placement_diagram(lab()))


# ---- remarks and results ---------------------------------------------------------------------


def test_remarks_on_the_prediction_are_counted_and_not_printed():
    """Their words tell results, which a shop takes for instructions and a competitor likes to read."""
    remarks = [
        Remark("plate", "Span over width is 2.1: torsion near 981 Hz.", "caution"),
        "Peak falls by 12 dB.",
    ]
    text = all_words(lab(), remarks=remarks)
    assert "981" not in text and "12 dB" not in text
    assert "2 remarks on the validity of the prediction: see the decision record" in text


def test_the_tolerance_says_where_it_comes_from():
    plain, fields = lab(), lab().sheet
    assert "tolerances are usual values, not calculated for this part" in all_words(plain)
    typed = replace(plain, sheet=replace(fields, tolerance_x_m=5e-4, tolerance_source=""))
    assert "tolerances as entered by the designer" in all_words(typed)
    studied = replace(plain, sheet=replace(fields, tolerance_source="allowed placement error, mode 1"))
    assert "tolerances from allowed placement error, mode 1" in all_words(studied)


@pytest.mark.parametrize("name", [*(key for key, _ in library.examples()), *scenes()])
def test_no_result_of_the_prediction_stands_on_a_sheet(name):
    project = (scenes() | {key: library.example(key) for key, _ in library.examples()})[name]
    project = replace(project, name="part", sheet=replace(project.sheet, revisions=()))
    for drawing in placement_diagrams(project):
        text = words(drawing).replace("1 kHz", "")
        assert FORBIDDEN.search(text) is None


def test_a_good_bond_never_reads_as_a_crack():
    """The fall that the card allows holds good parts of the tolerance study, at every level of the mechanics."""
    for level in ("plain", "section", "across"):
        project = library.example("lab-beam")
        project = replace(project, structure=replace(project.structure, level=level))
        package = project.package(project.candidate().patches[0].package)
        study = tolerance_study(project, samples=200)
        falls = 1.0 - PassBands(study).values(Reading("bonding", 0, "G1"))
        assert np.mean(falls < largest_clamping_drop(package, level) + EXTRA_DROP) > 0.97
