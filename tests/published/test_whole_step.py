"""A whole drag step against the general-purpose route (`tests/reference/hermite_route.py`: written-anew
section with every layer free across by itself, cubic elements, poles by eigenvalues): the tuned resistor, the damping it gives with the
dielectric's loss, and the response. A wrong tuning capacitance (blocked or free in place of the one that
goes with K^2) or a dropped dielectric loss shows here."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.project import library
from core.project.candidate import Circuit, Tuning
from core.project.service import TipForce
from core.project.structure import Damping
from tests.published.build import plain
from tests.reference import hermite_route
from tests.reference.lamination import Lamination

CASES = [("lab-beam", 1), ("lab-beam", 2), ("touring-ski", 1), ("touring-ski", 3), ("louvre-blade", 2)]


def made(key, mode, tan_delta=None):
    """Candidate A with a resistor tuned in closed form, constants as they stand, one damping for all."""
    project = plain(library.example(key))
    candidate = project.candidate("A")
    group = replace(candidate.groups[0], circuit=Circuit("resistor", tuning=Tuning(mode)), instrument=None)
    candidate = replace(candidate, groups=(group, *candidate.groups[1:])[:1])
    packages = project.packages
    if tan_delta is not None:
        packages = tuple(
            replace(p, ceramic=replace(p.ceramic, tan_delta=replace(p.ceramic.tan_delta, value=tan_delta)))
            for p in packages
        )
    return replace(
        project,
        packages=packages,
        candidates=(candidate,),
        active="A",
        structure=replace(project.structure, damping=Damping((0.003,))),
        service=replace(
            project.service, loads=(TipForce("tip", 1.0, (5.0, 500.0)),), active_load=0,
            cold_c=20.0, reference_c=20.0, hot_c=20.0,
        ),
        view=replace(project.view, modes_shown=5, output_x_m=None, output="receptance"),
    )  # fmt: skip


@pytest.mark.parametrize(("key", "mode"), CASES)
def test_tuned_resistor_and_the_damping_it_gives(key, mode):
    project = made(key, mode)
    route = hermite_route.solve(Lamination(project, project.candidate()).as_beam(), tuned_mode=mode)
    found = predict(project)
    assert found.groups[0].values[0].value == pytest.approx(route.resistance_ohm, rel=1e-4)
    assert found.groups[0].free_capacitance_f == pytest.approx(route.free_capacitance_f, rel=1e-6)
    ours = [m.zeta for m in found.modes]
    np.testing.assert_allclose(ours, route.damping[:5], rtol=2e-4)


def test_the_dielectric_counts():
    """At tan delta = 0.02 the loss adds about K^2 tan delta/2 (1 - ...) of damping and takes some of the
    resistor's: the sum is the route's, and differs from the lossless one by more than the tolerance."""
    project, lossless = made("lab-beam", 3), made("lab-beam", 3, 0.0)
    route = hermite_route.solve(Lamination(project, project.candidate()).as_beam(), tuned_mode=3)
    ours = np.array([m.zeta for m in predict(project).modes])
    without = np.array([m.zeta for m in predict(lossless).modes])
    np.testing.assert_allclose(ours, route.damping[:5], rtol=2e-4)
    assert (np.abs(ours / without - 1) > 4e-4).sum() >= 2


def test_receptance_before_and_after():
    project = made("lab-beam", 1)
    route = hermite_route.solve(Lamination(project, project.candidate()).as_beam(), tuned_mode=1)
    found = predict(project, points=900).response
    inside = (route.frequency_hz > 6.0) & (route.frequency_hz < 490.0)
    for ours, theirs in ((found.before, route.shorted), (found.after, route.receptance)):
        size = np.interp(route.frequency_hz[inside], found.frequency_hz, np.abs(ours))
        assert np.median(np.abs(size / np.abs(theirs[inside]) - 1)) < 2e-3
