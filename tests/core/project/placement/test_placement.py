"""One verdict on where a package may lie: everybody gives it, and it is that of plain geometry."""

from __future__ import annotations

import dataclasses
import math
import re

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from shapely import affinity

from core.project.candidate import Candidate, Circuit, Group, Member
from core.project.edit import add_patch, with_candidate
from core.project.mirror import mirrored
from core.project.model import Project
from core.project.patch import Patch
from core.project.placement.lead import EXITS, lead_run
from core.project.placement.many import judge
from core.project.placement.obstacles import FLUSH_M, TOUCHING_M
from core.project.placement.room import free_starts, room
from core.project.placement.verdict import verdicts
from core.project.plan import package_margins
from core.project.problems import find_cautions, find_problems
from core.project.structure import CutOut, DatumFeature, KeepOut, Outline, Support
from core.study.placement.maps import default_request, placement_map
from core.study.placement.position import damping_against_position
from core.study.search.goals import Goal, Limits, SearchRequest
from core.study.search.scoring import out_of_place
from core.study.search.templates import templates
from tests.levels import beam_example

LAB = beam_example("lab-beam")
PACKAGE = LAB.packages[0]
SPAN = 0.3
law = settings(max_examples=30, deadline=None, derandomize=True)


def mm(low: float, high: float) -> st.SearchStrategy[float]:
    """Lengths to a hundredth of a millimetre, as a person types them."""
    return st.integers(round(1e5 * low), round(1e5 * high)).map(lambda v: v / 1e5)


@st.composite
def cut_outs(draw):
    if draw(st.booleans()):
        return CutOut("hole", draw(mm(0.01, 0.29)), draw(mm(-0.008, 0.008)), diameter_m=draw(mm(0.002, 0.008)))
    length, width = draw(mm(0.002, 0.018)), draw(mm(0.002, 0.006))
    return CutOut("slot", draw(mm(0.02, 0.28)), draw(mm(-0.008, 0.008)), length_m=length, width_m=width)


@st.composite
def keep_outs(draw, name: str):
    face = draw(st.sampled_from(["top", "underside", "both"]))
    low = draw(mm(0.0, 0.28))
    high = low + draw(mm(0.002, 0.03))
    polygon = None
    if draw(st.booleans()):
        y = draw(mm(-0.02, 0.015))
        polygon = ((low, y), (high, y), (high, y + 0.008), ((low + high) / 2, y + 0.003), (low, y + 0.008))
    return KeepOut(name, face, low, high, polygon)


@st.composite
def patches(draw, name: str):
    length = draw(mm(0.01, 0.05))
    turn = draw(st.sampled_from([0.0, 0.0, 0.1, -0.4]))
    return Patch(
        name, PACKAGE.name, draw(mm(-0.01, 0.3 - length + 0.01)), length, draw(mm(0.008, 0.03)), PACKAGE.bond,
        draw(st.sampled_from(["top", "underside", "both"])), True, draw(st.sampled_from([0.0, 0.0, 0.004, -0.01])),
        turn, draw(st.sampled_from(["towards root", "towards tip", "left", "right"])),
    )  # fmt: skip


@st.composite
def parts(draw) -> Project:
    """The lab beam with other widths or a drawn outline, holes, keep-outs, supports, one to three patches."""
    root = draw(st.sampled_from(["clamped", "pinned", "free"]))
    tip = "pinned" if root == "free" else draw(st.sampled_from(["free", "clamped"]))
    widths = (draw(mm(0.03, 0.06)), draw(mm(0.03, 0.06)), draw(mm(0.03, 0.06)))
    outline = None
    if draw(st.booleans()):
        left = [(0.0, widths[0] / 2), (0.14, widths[1] / 2 + 0.003), (SPAN, widths[2] / 2)]
        right = [(0.0, -widths[0] / 2), (0.17, -widths[1] / 2), (SPAN, -widths[2] / 2)]
        hole = ((0.2, -0.004), (0.21, -0.005), (0.208, 0.004))
        outline = Outline((*right, *reversed(left)), (hole,) if draw(st.booleans()) else ())
    datums = LAB.structure.datums
    if draw(st.booleans()):
        datums = (*datums, DatumFeature("dowel", 0.02, True, 0.006, 0.004))
    structure = replace(
        LAB.structure,
        stations_m=(0.0, 0.15, SPAN),
        width_m=widths,
        root=Support(root),
        tip=Support(tip),
        cut_outs=tuple(draw(st.lists(cut_outs(), max_size=2))),
        keep_outs=tuple(draw(keep_outs(f"zone {n}")) for n in range(draw(st.integers(0, 2)))),
        datums=datums,
        outline=outline,
    )
    placed = tuple(draw(patches(f"P{n}")) for n in range(1, 1 + draw(st.integers(1, 3))))
    groups = tuple(
        Group(f"G{n}", (Member(patch.id),), "parallel", Circuit("resistor", {"resistance_ohm": 1e5}))
        for n, patch in enumerate(placed)
    )
    candidate = Candidate("A", "A", placed, groups)
    return replace(LAB, structure=structure, candidates=(candidate,), active="A")


def free_here(project: Project) -> list[bool]:
    return [not touched for touched in verdicts(project.structure, project.packages, project.candidate())]


def starts(patch: Patch) -> np.ndarray:
    return np.linspace(0.0, SPAN - patch.length_m, 31)


# ---- an independent route: the polygons of a geometry library ----------------------------------


def box_of(patch: Patch, end: float, side: float, by_m: float = 0.0):
    half_l, half_b = patch.length_m / 2 + end - by_m, patch.width_m / 2 + side - by_m
    flat = shapely.box(-half_l, -half_b, half_l, half_b)
    turned = affinity.rotate(flat, patch.angle_rad, (0, 0), use_radians=True)
    return affinity.translate(turned, patch.x_start_m + patch.length_m / 2, patch.y_m)


def on_face(one: str, other: str) -> bool:
    return "both" in (one, other) or one == other


def lies_free(project: Project, patch: Patch) -> bool:
    """Package less the tolerances against ends, the part with its holes, keep-outs and packages."""
    structure, margins = project.structure, package_margins(PACKAGE)
    solid, soft = box_of(patch, *margins, TOUCHING_M), box_of(patch, *margins, FLUSH_M)
    if solid.bounds[0] < 0.0 or solid.bounds[2] > SPAN:
        return False
    if structure.outline is not None:
        part = shapely.Polygon(structure.outline.exterior, structure.outline.holes)
    else:
        half = [w / 2 for w in structure.width_m]
        left = list(zip(structure.stations_m, half, strict=True))
        part = shapely.Polygon([*left, *reversed([(x, -y) for x, y in left])])
    part = part.union(shapely.box(-1.0, -1.0, 2e-6, 1.0)).union(shapely.box(SPAN - 2e-6, -1.0, 2.0, 1.0))
    if not part.covers(soft):
        return False
    for cut in structure.cut_outs:
        in_drawing = structure.outline is not None and any(
            shapely.Polygon(ring).contains(shapely.Point(cut.x_m, cut.y_m)) for ring in structure.outline.holes
        )
        if cut.kind == "hole":
            over = soft.distance(shapely.Point(cut.x_m, cut.y_m)) < cut.diameter_m / 2
        else:
            low, high = cut.x_m - cut.length_m / 2, cut.y_m - cut.width_m / 2
            slot = shapely.box(low, high, low + cut.length_m, high + cut.width_m)
            over = soft.intersection(slot).area > 0.0
        if over and not in_drawing:
            return False
    for datum in structure.datums:
        if datum.diameter_m and soft.distance(shapely.Point(datum.x_m, datum.y_m)) < datum.diameter_m / 2:
            return False
    for zone in structure.keep_outs:
        area = shapely.Polygon(zone.polygon_m or shapely.box(zone.x_start_m, -9, zone.x_end_m, 9).exterior.coords)
        if on_face(zone.face, patch.face) and solid.intersection(area).area > 0.0:
            return False
    others = [p for p in project.candidate().patches if p.id != patch.id and on_face(p.face, patch.face)]
    return not any(solid.intersection(box_of(p, *margins)).area > 0.0 for p in others)


@law
@given(project=parts())
def test_the_verdict_is_that_of_plain_geometry(project):
    candidate = project.candidate()
    assert free_here(project) == [lies_free(project, patch) for patch in candidate.patches]
    patch = candidate.patches[0]
    allowed = judge(project, candidate, patch, starts(patch)).allowed
    plain = [lies_free(project, replace(patch, x_start_m=float(x))) for x in starts(patch)]
    assert allowed.tolist() == plain


@law
@given(project=parts())
def test_everybody_gives_the_one_verdict(project):
    """Problems and cautions, drawing, strip and map at the same places."""
    from app.drawing.patch_view import patch_views

    candidate = project.candidate()
    path = "candidates[A].patches"
    told = find_problems(project)
    assume(not any(p.path.startswith("structure") for p in told))
    errors = {p.message for p in told if p.path.startswith(path)}
    cautions = {p.message for p in find_cautions(project) if not p.path.endswith("lead_exit")}
    touched = [t for one in verdicts(project.structure, project.packages, candidate) for t in one]
    pairs = {frozenset((t.patch.id, t.obstacle.path)) for t in touched if t.obstacle.kind == "package"}
    overlaps = {m for m in errors if m.startswith("The packages of patches")}
    assert len(overlaps) == len(pairs)
    alone = {t.sentence for t in touched if t.severity == "error" and t.obstacle.kind != "package"}
    assert errors - overlaps == alone
    assert cautions == {t.sentence for t in touched if t.severity == "caution"}
    for view, free in zip(patch_views(project, None), free_here(project), strict=True):
        assert (view.collisions == ()) == free
    patch = candidate.patches[0]
    strip = damping_against_position(project, "A", patch.id, n=30, modes=1)
    for x, allowed, why in zip(strip.x_start_m, strip.allowed, strip.reasons, strict=True):
        moved = replace(candidate, patches=(replace(patch, x_start_m=float(x)), *candidate.patches[1:]))
        assert free_here(with_candidate(project, moved))[0] == allowed == (why == ""), (x, why)
    asked = default_request(project, patch.id, shape=(5, 2))
    x = tuple(float(v) for v in strip.x_start_m[::7])
    asked = dataclasses.replace(asked, x_start_m=x, axis="thickness", size_m=(2e-4, 2.5e-4), respect_limits=False)
    found = placement_map(project, asked)
    assert ((found.reason < 0).all(axis=1) == strip.allowed[::7]).all()


@law
@given(project=parts(), at=st.lists(st.tuples(mm(0.003, 0.26), mm(0.003, 0.26)), min_size=4, max_size=12))
def test_the_search_leaves_out_what_the_verdict_forbids(project, at):
    assume(not any(p.path.startswith("structure") for p in find_problems(project)))
    limits = Limits((PACKAGE.name,), patches=(2,), faces=("top",))
    (template, *_) = templates(project, SearchRequest(Goal("damping", 1), limits))
    v = np.array(at)
    out = out_of_place(project, limits, template, v)
    for row, far in zip(v, out, strict=True):
        laid = replace(template.layout(row), id="Z")
        ok = not any(verdicts(project.structure, project.packages, laid))
        assert (far <= 0.0) == ok


@law
@given(project=parts())
def test_the_mirrored_part_has_the_mirrored_verdict(project):
    other = mirrored(project)
    assert mirrored(other).candidates == project.candidates
    assert free_here(project) == free_here(other)
    for one, two in zip(project.candidate().patches, other.candidate().patches, strict=True):
        here, there = room(project, project.candidate(), one), room(other, other.candidate(), two)
        for a, b in ((here.tip, there.tip), (here.root, there.root), (here.left, there.right), (here.angle, there.angle)):
            assert a.room_m == pytest.approx(b.room_m, abs=1e-9)
        runs = [
            lead_run(p.structure, p.packages, p.candidate(), patch).free_m
            for p, patch in ((project, one), (other, two))
        ]
        assert runs[0] == pytest.approx(runs[1], abs=1e-9)


WAYS = {"tip": ("x_start_m", 1), "root": ("x_start_m", -1), "left": ("y_m", 1), "right": ("y_m", -1)}


@law
@given(project=parts())
def test_the_room_is_exact(project):
    """A micrometre less than the room is allowed, a micrometre more is not."""
    candidate = project.candidate()
    for k, (patch, free) in enumerate(zip(candidate.patches, free_here(project), strict=True)):
        if not free:
            continue
        for way, (field, sign) in WAYS.items():
            clearance = getattr(room(project, candidate, patch), way)
            if math.isinf(clearance.room_m):
                continue
            for more, allowed in ((-1e-6, True), (1e-6, False)):
                shift = clearance.room_m + more
                moved = replace(patch, **{field: getattr(patch, field) + sign * shift})
                laid = (*candidate.patches[:k], moved, *candidate.patches[k + 1 :])
                here = with_candidate(project, replace(candidate, patches=laid))
                if shift >= 0:
                    assert free_here(here)[k] == lies_free(here, moved) == allowed, (way, clearance)


@law
@given(project=parts())
def test_free_starts_end_in_exact_contact(project):
    candidate = project.candidate()
    patch = candidate.patches[0]
    for low, high in free_starts(project, candidate, patch):
        x = np.array([low, 0.5 * (low + high), high, low - 1e-6, high + 1e-6])
        allowed = [True, True, True, False, False]
        assert judge(project, candidate, patch, x).allowed.tolist() == allowed
        assert [lies_free(project, replace(patch, x_start_m=float(v))) for v in x] == allowed


# ---- in words ---------------------------------------------------------------------------------


def lab(**changes) -> Project:
    candidate = LAB.candidate("A")
    patch = replace(candidate.patches[0], **changes)
    return replace(LAB, candidates=(replace(candidate, patches=(patch,)),), active="A")


def with_part(project: Project, **changes) -> Project:
    return replace(project, structure=replace(project.structure, **changes))


def test_ceramic_over_a_bolt_hole_cannot_be_predicted():
    bolted = with_part(lab(), cut_outs=(CutOut("hole", 0.042, diameter_m=0.006),))
    (problem,) = find_problems(bolted)
    assert problem.message == (
        "The ceramic of patch P1 lies over the hole at x = 42.0 mm. Move it clear, or choose a smaller one."
    )


def test_margin_over_a_bolt_hole_is_told_and_predicted():
    bolted = with_part(lab(), cut_outs=(CutOut("hole", 0.0575, diameter_m=0.004),))
    assert find_problems(bolted) == ()
    assert [p.message for p in find_cautions(bolted) if "margin" in p.message] == [
        "The margin of patch P1 lies over the hole at x = 57.5 mm. Move it clear, or choose a smaller one."
    ]


@pytest.mark.parametrize("x_start_m, words", [(0.0, "past the support at 0.0 mm"), (0.25, "past the tip at 300.0 mm")])
def test_margins_past_the_ends_are_told(x_start_m, words):
    told = [p.message for p in find_cautions(lab(x_start_m=x_start_m))]
    assert any("reaches 4.0 mm" in m and words in m for m in told)


def test_stations_and_an_outline_of_the_same_shape_say_the_same():
    wide = with_part(lab(width_m=0.031), width_m=0.03)
    ring = ((0.0, -0.015), (SPAN, -0.015), (SPAN, 0.015), (0.0, 0.015))
    drawn = with_part(wide, outline=Outline(ring))
    said = [find_problems(p) for p in (wide, drawn)]
    assert said[0] == said[1] and "hangs over the edge of the part by 0.5 mm" in said[0][0].message
    narrow = lab(width_m=0.029)
    assert find_problems(narrow) == ()
    cautions = [find_cautions(p) for p in (narrow, with_part(narrow, outline=Outline(ring)))]
    assert cautions[0] == cautions[1]
    assert any("The margin of patch P1 hangs over the edge" in p.message for p in cautions[0])


def test_a_lead_into_the_clamp_is_told_with_the_exits_that_are_free():
    (caution,) = find_cautions(lab(lead_exit="towards root"))
    assert caution.path.endswith("lead_exit")
    assert caution.message == (
        "The lead of patch P1 leaves towards root and meets the support after 1.0 mm; bend and strain relief "
        "need 10.0 mm. Choose another exit: towards tip."
    )


def test_a_new_patch_starts_on_a_tenth_of_a_millimetre():
    odd = replace(LAB.candidates[0].patches[0], x_start_m=0.0312347, angle_rad=0.11)
    with_odd = with_candidate(LAB, replace(LAB.candidates[0], patches=(odd,)))
    start = add_patch(with_odd, "A").candidate("A").patches[-1].x_start_m
    assert start * 1e4 == pytest.approx(round(start * 1e4), abs=1e-6)
    assert start > 0.0


def test_an_overhang_is_told_in_tenths_of_a_millimetre():
    patch = replace(LAB.candidates[0].patches[0], x_start_m=0.1, angle_rad=math.radians(37.0))
    turned = with_candidate(LAB, replace(LAB.candidates[0], patches=(patch,)))
    said = [problem.message for problem in find_problems(turned) if "over the edge" in problem.message]
    assert said
    for number in re.findall(r"by (\d+\.\d+) mm", " ".join(said)):
        assert len(number.partition(".")[2]) == 1


@law
@given(
    ends=st.tuples(mm(0.05, 0.2), mm(0.03, 0.2)), angle=st.integers(-170, 170), x=mm(0.03, 0.2), y=mm(-0.01, 0.01),
    exit=st.sampled_from(EXITS),
)
def test_a_lead_of_a_turned_patch_runs_until_it_leaves_the_part(ends, angle, x, y, exit):
    """A lead's end 4 mm wide is pushed along by itself, in steps, over a taper."""
    middle = max(ends) + 0.02
    structure = replace(LAB.structure, stations_m=(0.0, 0.1, SPAN), width_m=(ends[0], middle, ends[1]), datums=(), cut_outs=())
    patch = replace(LAB.candidates[0].patches[0], x_start_m=x, y_m=y, angle_rad=math.radians(angle), length_m=0.02, width_m=0.02)
    candidate = replace(LAB.candidates[0], patches=(patch,))
    run = lead_run(structure, LAB.packages, candidate, patch, exit)
    part = shapely.Polygon([(0, ends[0] / 2), (0.1, middle / 2), (SPAN, ends[1] / 2), (SPAN, -ends[1] / 2),
                            (0.1, -middle / 2), (0, -ends[0] / 2)])  # fmt: skip
    way = math.radians(angle) + {"towards tip": 0.0, "left": math.pi / 2, "towards root": math.pi, "right": -math.pi / 2}[exit]
    end, side = package_margins(PACKAGE)
    out = patch.length_m / 2 + (end if exit.startswith("towards") else side)
    step, far = 2e-4, 0.0
    slit = affinity.rotate(shapely.LineString([(0, -0.002), (0, 0.002)]), way, origin=(0, 0), use_radians=True)
    start = (x + patch.length_m / 2 + out * math.cos(way), y + out * math.sin(way))
    assume(part.buffer(1e-6).covers(affinity.translate(slit, *start)))
    while part.buffer(1e-6).covers(affinity.translate(slit, start[0] + far * math.cos(way), start[1] + far * math.sin(way))):
        far += step
    assert run.free_m == pytest.approx(far, abs=2.0 * step + 2e-5)


def test_a_round_hole_of_a_drawing_is_met_where_it_is_round():
    """Its polygon's middle named it "the hole at x = 14.9995 mm", and its corners let a patch start at 21.494 mm."""
    turn = np.linspace(0.0, 2.0 * np.pi, 77, endpoint=False) + 0.013
    ring = tuple((float(0.1 + 2.5e-3 * np.cos(a)), float(2.5e-3 * np.sin(a))) for a in turn)
    exterior = ((0.0, -0.015), (SPAN, -0.015), (SPAN, 0.015), (0.0, 0.015))
    plain = with_part(lab(), cut_outs=(CutOut("hole", 0.1, diameter_m=0.005),))
    drawn = with_part(plain, outline=Outline(exterior, (ring,), "drawn"))
    patch, margin = plain.candidate().patches[0], package_margins(PACKAGE)[0]
    places = [free_starts(part, part.candidate(), patch) for part in (plain, drawn)]
    assert np.allclose(places[0], places[1], atol=1e-9)
    assert any(abs(low - (0.1025 + margin)) < FLUSH_M for low, _ in places[0])
    for x in (0.11, 0.101, 0.102):
        over = [replace(part.candidate(), patches=(replace(patch, x_start_m=x),)) for part in (plain, drawn)]
        told = [find_problems(with_candidate(part, one)) + find_cautions(with_candidate(part, one))
                for part, one in zip((plain, drawn), over, strict=True)]  # fmt: skip
        assert told[0] == told[1]
    assert any("the hole at x = 100.0 mm" in problem.message for problem in told[0])
