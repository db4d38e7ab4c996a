"""Mirror image, change of scale, reciprocity."""

import msgspec
import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from core.predict.predict import predict
from core.project.candidate import Circuit
from core.project.model import Project
from core.project.patch import Bond
from core.project.service import TipForce
from tests.laws.drawn import MATERIALS, between, law, modes, patched
from tests.published.build import ceramic, group, package, place, project, strip, support

replace = msgspec.structs.replace


def mirrored(made: Project) -> Project:
    """The same part seen from the other end."""
    s = made.structure
    back = tuple(reversed(s.stations_m))
    layers = tuple(replace(layer, thickness_m=tuple(reversed(layer.thickness_m))) for layer in s.layers)
    other = replace(
        s, stations_m=tuple(s.span_m - x for x in back), width_m=tuple(reversed(s.width_m)), layers=layers,
        root=s.tip, tip=s.root,
    )  # fmt: skip
    candidate = made.candidate()
    patches = tuple(replace(p, x_start_m=s.span_m - p.x_end_m) for p in candidate.patches)
    return replace(made, structure=other, candidates=(replace(candidate, patches=patches),))


@law
@given(patched())
def test_mirror_image(made):
    """Seen from the other end with the supports swapped, nothing changes."""
    here, there = modes(made), modes(mirrored(made))
    np.testing.assert_allclose(there.omega_rad_s[:8], here.omega_rad_s[:8], rtol=1e-6)
    np.testing.assert_allclose(there.k2[:6], here.k2[:6], rtol=1e-4, atol=1e-10)
    np.testing.assert_allclose(there.group_free_f, here.group_free_f, rtol=1e-9)


@law
@given(between(0.1, 0.8), between(0.1, 10.0))
def test_turned_upside_down(at, scale):
    """A patch on top of a lay-up is the patch underneath of the lay-up turned over."""
    plate = package(ceramic(), 0.05, 0.02, 2e-4 * scale**0.2)
    layers = [("metal", 1e-3), ("light", 2e-3), ("heavy", 5e-4)]
    results = []
    for order, face in ((layers, "top"), (layers[::-1], "underside")):
        patch = place(plate, at * 0.25, face=face)
        results.append(modes(project(strip(0.3, 0.03, order), MATERIALS, [plate], [patch], [group("P1")])))
    np.testing.assert_allclose(results[1].omega_rad_s[:8], results[0].omega_rad_s[:8], rtol=1e-10)
    # K^2 goes down to 1e-11 here, where rounding of the mode shapes is all that is left.
    np.testing.assert_allclose(results[1].k2[:8], results[0].k2[:8], rtol=1e-7)


def scaled(made: Project, a: float) -> Project:
    """Every length times a, springs with them: geometrically the same part."""
    s = made.structure

    def times(profile):
        return tuple(a * v for v in profile) if isinstance(profile, tuple) else a * profile

    def end(support):
        return replace(support, k_t_n_m=a * support.k_t_n_m, k_r_nm_rad=a**3 * support.k_r_nm_rad)

    bigger = replace(
        s, stations_m=times(s.stations_m), width_m=times(s.width_m), root=end(s.root), tip=end(s.tip),
        layers=tuple(replace(layer, thickness_m=times(layer.thickness_m)) for layer in s.layers),
    )  # fmt: skip
    candidate, plate = made.candidate(), made.packages[0]

    def bond(b):
        return replace(b, thickness_m=a * b.thickness_m)

    patches = tuple(
        replace(
            p, x_start_m=a * p.x_start_m, length_m=a * p.length_m, width_m=a * p.width_m, bond=bond(p.bond)
        )
        for p in candidate.patches
    )
    plate = replace(
        plate, length_m=a * plate.length_m, width_m=a * plate.width_m, bond=bond(plate.bond),
        ceramic_thickness_m=a * plate.ceramic_thickness_m,
    )  # fmt: skip
    candidate = replace(candidate, patches=patches)
    return replace(made, structure=bigger, packages=(plate,), candidates=(candidate,))


@law
@given(patched(), st.sampled_from([0.1, 0.5, 3.0, 20.0]))
def test_geometric_scale(made, a):
    """Twice as large, half the frequency, the same K^2, twice the capacitance."""
    small, large = modes(made), modes(scaled(made, a))
    np.testing.assert_allclose(large.omega_rad_s[:8] * a, small.omega_rad_s[:8], rtol=1e-8)
    np.testing.assert_allclose(large.k2[:8], small.k2[:8], rtol=1e-5, atol=1e-12)
    np.testing.assert_allclose(large.group_free_f, a * small.group_free_f, rtol=1e-9)


@law
@given(patched(), between(0.1, 1.0), between(0.1, 1.0), st.sampled_from(["open", "resistor", "series R-L"]))
def test_response_is_reciprocal(made, first, second, kind):
    """Motion at B per force at A is motion at A per force at B, whatever hangs on the leads."""
    values = {"resistance_ohm": 3e4, "inductance_h": 20.0}
    wired = replace(made.candidate(), groups=(group("P1", circuit=Circuit(kind, values)),))
    low = float(modes(made).omega_rad_s[0]) / (2 * np.pi)
    span = made.structure.span_m

    def curve(force_at, output_at):
        load = TipForce("f", 1.0, (0.3 * low, 8 * low), x_m=force_at * span)
        case = replace(
            made, candidates=(wired,), service=replace(made.service, loads=(load,)),
            view=replace(made.view, output_x_m=output_at * span),
        )  # fmt: skip
        return predict(case).response

    there, back = curve(first, second), curve(second, first)
    np.testing.assert_allclose(there.frequency_hz, back.frequency_hz, rtol=1e-12)
    size = np.abs(there.after).max()
    if not (there.after.any() and back.after.any()):
        # an output that cannot move is given as none; what a force there moves elsewhere is rounding
        own = max(np.abs(curve(at, at).after).max() for at in (first, second, 0.5))
        assert max(size, np.abs(back.after).max()) < 1e-6 * own
        return
    np.testing.assert_allclose(there.after, back.after, atol=1e-9 * size)


@law
@given(between(0.05, 0.9), st.floats(-1e-13, 1e-13))
def test_rounding_at_a_clamped_end_changes_nothing(fraction, slip):
    """A patch that ends on a clamp to within rounding is held there: no shear lag, no jump."""
    plate = package(ceramic(), 0.3 * fraction, 0.02, 2e-4, bond=Bond("glue", 5e-5, 1e9))
    structure = strip(0.3, 0.03, [("metal", 2e-3)], tip=support("clamped"))
    start = 0.3 - plate.length_m
    patches = [place(plate, start + s) for s in (0.0, slip)]
    found = [modes(project(structure, MATERIALS, [plate], [patch])) for patch in patches]
    np.testing.assert_allclose(found[1].omega_rad_s[:8], found[0].omega_rad_s[:8], rtol=1e-9)
    assert found[1].plates[0].shear_lag_m[1] == 0.0
