"""What many layouts say of the field under a static force against what each prediction says."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.project import library
from core.project.candidate import Circuit
from core.project.edit import with_candidate, with_service, with_structure
from core.project.service import StaticForce
from core.study.layouts import layouts, placed
from core.study.placement.maps import default_request, placement_map

STARTS = np.array([0.012, 0.06, 0.15])


def behind(times, level="section"):
    """The lab beam behind a negative capacitance in line, so many times its free one, under a static force."""
    project = with_structure(library.example("lab-beam"), level=level)
    free = predict(project).groups[0].free_capacitance_f
    candidate = project.candidate()
    circuit = Circuit("negative C series R", {"negative_capacitance_f": times * free, "resistance_ohm": 1e4})
    project = with_candidate(project, replace(candidate, groups=(replace(candidate.groups[0], circuit=circuit),)))
    return with_service(project, static_forces=(StaticForce("bend", -3.0),))


def told(project, start, length=None):
    """The least margin of a field under the static force, by the prediction with the patch there."""
    candidate = project.candidate()
    patch = candidate.patches[0]
    moved = replace(patch, x_start_m=float(start), length_m=patch.length_m if length is None else float(length))
    found = predict(with_candidate(project, replace(candidate, patches=(moved,))))
    return min(limit.margin for limit in found.limits if limit.name.startswith("Field") and limit.load.startswith("bend"))


@pytest.mark.parametrize("times", [1.3, 4.0])
def test_the_field_counts_what_stands_behind_a_negative_capacitance(times):
    project = behind(times)
    candidate = project.candidate()
    found = layouts(project, candidate, placed(candidate, "P1", STARTS), 3)
    use = found.static_use(("P1",))[:, 2]
    np.testing.assert_allclose(1.0 / use, [told(project, start) for start in STARTS], rtol=2e-3)


@pytest.mark.parametrize("level", ["plain", "section", "across"])
@pytest.mark.parametrize("kind", ["negative C series R", "open"])
def test_the_static_strain_is_that_of_leads_as_they_stand(kind, level):
    """Behind a negative capacitance in line the part is softer, under charge that stays stiffer."""
    project = behind(1.3, level)
    if kind == "open":
        candidate = project.candidate()
        opened = replace(candidate.groups[0], circuit=Circuit("open", {}))
        project = with_candidate(project, replace(candidate, groups=(opened, *candidate.groups[1:])))
    candidate = project.candidate()
    shorted = with_candidate(project, replace(candidate, groups=(replace(candidate.groups[0], circuit=Circuit("shorted", {})),)))
    found, free = (layouts(p, p.candidate(), placed(p.candidate(), "P1", STARTS), 3) for p in (project, shorted))
    patch = candidate.patches[0]
    for name, side in (("Tensile strain, static", found.static.tension), ("Compressive strain, static", found.static.compression)):
        alone = []
        for start in STARTS:
            moved = with_candidate(project, replace(candidate, patches=(replace(patch, x_start_m=float(start)),)))
            mine = [abs(limit.value) for limit in predict(moved).limits if limit.name == name and limit.load.startswith("bend")]
            alone.append(max(mine, default=0.0))
        np.testing.assert_allclose(side[:, 0].max(axis=-1), alone, rtol=2e-3)
    softer = found.static.tension.max(axis=(1, 2)) / free.static.tension.max(axis=(1, 2))
    assert (softer > 1.0005).all() if kind != "open" else (softer < 0.9995).all()


def test_a_map_at_the_level_across_masks_the_same_field():
    """Carried over from another level, what stands there is counted once."""
    project = behind(1.3, "across")
    request = default_request(project, "P1", quantity="coupling", mode=1, shape=(12, 4))
    found = placement_map(project, request)
    seen = set()
    for i in (3, 6, 8):
        for j in (1, 2):
            masked = "field limit" in found.reason_at(i, j)
            assert masked or not found.reason_at(i, j)
            assert masked == (told(project, request.x_start_m[i], request.size_m[j]) < 1.0)
            seen.add(masked)
    assert seen == {True, False}
