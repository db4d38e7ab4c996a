"""Projects the sheets are tried on: the worked examples and layouts made to be awkward."""

from __future__ import annotations

from math import radians

from msgspec.structs import replace

from core.project import library
from core.project.candidate import Group, Member
from core.project.model import Project
from core.project.patch import Patch
from core.project.sheet import Revision
from core.project.structure import CutOut, DatumFeature, KeepOut, Support

PAPERS = ("A4", "A3", "Letter")


def on_paper(project: Project, paper: str) -> Project:
    return replace(project, sheet=replace(project.sheet, paper=paper))


def lab() -> Project:
    return library.example("lab-beam")


def with_patches(project: Project, *patches: Patch) -> Project:
    """The active candidate carries these patches, all in one group."""
    groups = (Group("G1", tuple(Member(p.id) for p in patches)),)
    active = replace(project.candidate(), patches=patches, groups=groups)
    others = tuple(c for c in project.candidates if c.id != project.active)
    return replace(project, candidates=(active, *others))


def patch(project: Project, **changes: object) -> Patch:
    """The example's patch with changes."""
    return replace(project.candidate().patches[0], **changes)


def plate(length_m: float, width_m: float) -> Project:
    """The lab beam's section with another plan; one patch of a quarter of its length."""
    project = lab()
    structure = project.structure
    size = replace(
        structure,
        stations_m=(0.0, length_m),
        width_m=width_m,
        datums=(DatumFeature("free end", length_m),),
        keep_outs=(),
    )
    one = patch(
        project, x_start_m=0.1 * length_m, length_m=0.25 * length_m, width_m=min(0.025, 0.5 * width_m)
    )
    return with_patches(replace(project, structure=size), one)


def scenes() -> dict[str, Project]:
    """Every awkward layout by name."""
    project = lab()
    structure, sheet = project.structure, project.sheet
    small = patch(project, length_m=0.03, width_m=0.015)
    row = [replace(small, id=f"P{n}", x_start_m=0.01 + 0.055 * (n - 1)) for n in range(1, 6)]
    wide = replace(structure, width_m=0.1)
    both = replace(structure, tip=Support("clamped"), datums=(DatumFeature("dowel hole", 0.15),))
    pinned = replace(
        structure, root=Support("pinned"), tip=Support("guided"), datums=(DatumFeature("shoulder", 0.0),)
    )
    zones = (
        KeepOut(
            "bolt circle of the cover", "both", 0.12, 0.16, ((0.12, -0.01), (0.16, -0.01), (0.14, 0.012))
        ),
        KeepOut("cable run", "both", 0.2, 0.203, None),
        KeepOut("label", "both", 0.206, 0.26, None),
        KeepOut("end stop", "both", 0.29, 0.3, None),
    )
    holes = (CutOut("hole", 0.18, 0.0, 0.008), CutOut("slot", 0.24, 0.0, 0.0, 0.02, 0.006))
    long_words = replace(
        sheet,
        title="Damping layout of the left-hand carrier arm, second prototype batch, winter variant",
        part_drawing="carrier arm, left, drawing 4711-0815-22, sheet 3, revision F, with the ribs removed",
        patch_specification="soft ceramic package with insulating skins, connector on 120 mm leads, lot 7",
        number="QS-2026-000123-L", owner="Bracket department", creator="design", approver="quality",
        surface_preparation=3 * "Degrease with solvent, abrade across the grain with P320 paper, wipe. ",
        revisions=tuple(Revision(c, "2026-03-02", f"moved {c} along the span for mode 1") for c in "ABCD"),
        face_note="side away from the table, with the engraved serial number of the carrier arm",
    )  # fmt: skip
    angle = radians(7)
    return {
        "five in a row": with_patches(project, *row),
        "turned and offset": with_patches(
            replace(project, structure=wide),
            patch(project, x_start_m=0.05, y_m=0.02, angle_rad=angle),
            patch(project, id="P2", x_start_m=0.15, y_m=-0.025, lead_exit="right"),
        ),
        "side by side": with_patches(
            replace(project, structure=wide),
            patch(project, x_start_m=0.05, y_m=0.025, lead_exit="left"),
            patch(project, id="P2", x_start_m=0.05, y_m=-0.025, lead_exit="right"),
            patch(project, id="P3", x_start_m=0.15, lead_exit="towards tip"),
        ),
        "held at both ends": with_patches(
            replace(project, structure=both, sheet=replace(sheet, datum="dowel hole")),
            patch(project, x_start_m=0.02),
        ),
        "pinned and guided": with_patches(
            replace(project, structure=pinned, sheet=replace(sheet, datum="shoulder")),
            patch(project, x_start_m=0.1, face="underside"),
        ),
        "keep-outs and cut-outs": with_patches(
            replace(project, structure=replace(structure, keep_outs=zones, cut_outs=holes)),
            patch(project, x_start_m=0.03),
        ),
        "pair": with_patches(project, patch(project, face="both")),
        "long words": replace(project, sheet=long_words),
        "small": plate(0.06, 0.02),
        "long and thin": plate(3.0, 0.04),
        "short and wide": plate(0.16, 0.1),
    }
