"""Cantilevers with tip bodies, springs and elastic roots.

Every expected value is a root of the frequency equation named beside it, checked here in mpmath
or with the exact transfer matrix. Citations from memory. Left out: a sprung mass on the tip
(Gurgoze 1996), because the model has no body on a spring.
"""

import mpmath as mp
import numpy as np
import pytest

from core.project.structure import Piece
from tests.published.build import bare, elastic, lambdas, material, strip, unit_beam
from tests.reference.transfer_matrix import Joint, Uniform, frequencies

TIP_MASS = {
    0.01: [1.856786977, 4.649726483, 7.78267124, 10.89758843],
    0.05: [1.791170562, 4.512720175, 7.58632189, 10.66091765],
    0.1: [1.722741521, 4.399522816, 7.451056673, 10.52178476],
    0.2: [1.61639966, 4.267061567, 7.318372673, 10.40156263],
    0.3: [1.536142911, 4.192330887, 7.253660226, 10.34800331],
    0.5: [1.41996443, 4.111133386, 7.190335242, 10.29844544],
    1.0: [1.24791741, 4.031139437, 7.134132241, 10.25662107],
    2.0: [1.076195664, 3.982573288, 7.102650186, 10.23401501],
    5.0: [0.8700214589, 3.949980491, 7.082537603, 10.21986487],
    10.0: [0.7357819194, 3.938465833, 7.075616367, 10.21504648],
}


@pytest.mark.parametrize("mu", TIP_MASS)
def test_tip_mass(mu):
    """1 + cos l cosh l + mu l (cos l sinh l - sin l cosh l) = 0: Laura, Pombo & Susemihl 1974,
    J. Sound Vib. 37, 161-168; mu = M/(m L)."""
    for value in TIP_MASS[mu]:
        root = mp.findroot(
            lambda x: 1 / mp.cosh(x) + mp.cos(x) + mu * x * (mp.cos(x) * mp.tanh(x) - mp.sin(x)), value
        )
        assert float(root) == pytest.approx(value, rel=1e-9)
    assert lambdas(unit_beam(masses=[(1.0, mu)]), 4) == pytest.approx(TIP_MASS[mu], rel=1e-8)


@pytest.mark.parametrize(
    ("mu", "fraction"),
    [(0.0, 0.242672045), (0.1, 0.2405969627), (0.5, 0.2379235883), (1.0, 0.2370233016),
     (2.0, 0.236435116), (10.0, 0.2358711062)],
)  # fmt: skip
def test_share_of_the_beam_mass_that_counts_at_the_tip(mu, fraction):
    """omega_1^2 = 3 EI/(L^3 (M + c m L)): c near 0.24, as in Blevins 1979 and sheet SDLL15/89 of
    the Guide VPCS; the exact c runs from 0.24267 to 33/140."""
    masses = [(1.0, mu)] if mu else []
    assert 3 / lambdas(unit_beam(masses=masses), 1)[0] ** 4 - mu == pytest.approx(fraction, rel=1e-6)


TIP_BODY = {
    (0.1, 0.001, 0.0): [1.720254399, 4.321451617, 7.086588188, 9.559096991],
    (0.5, 0.05, 0.0): [1.370614837, 2.863875723, 5.146248063, 8.086739097],
    (1.0, 0.01, 0.0): [1.242447908, 3.638624542, 5.663001043, 8.174880808],
    (1.0, 0.1, 0.0): [1.195669831, 2.505060019, 4.975098438, 7.983971952],
    (1.0, 1.0, 0.0): [0.9316113841, 1.841350633, 4.900873154, 7.966393397],
    (0.5, 0.005, 0.1): [1.347701199, 3.612113632, 6.101192814, 8.722258281],
    (1.0, 0.02, 0.2): [1.107312494, 3.147660165, 5.598882503, 8.376714877],
}


@pytest.mark.parametrize("case", TIP_BODY, ids=str)
def test_tip_body_with_rotary_inertia(case):
    """Rama Bhat & Wagner 1976, J. Sound Vib. 45, 304-307; with the centroid beyond the tip To
    C.W.S. 1982, J. Sound Vib. 83, 445-460. The offset is told, and carried by a piece of beam that
    is stiff and light enough not to be noticed."""
    mu, inertia, offset = case
    if offset:
        told = lambdas(unit_beam(masses=[(1.0, mu, inertia, 0.0, offset)]), 4)
        assert told == pytest.approx(TIP_BODY[case], rel=1e-7)
        found = lambdas(_with_arm(mu, inertia, offset), 4, [material("arm", 12e8, 1e-9)])
        assert found == pytest.approx(TIP_BODY[case], rel=1e-6)
        return
    chain = [Uniform(1, 1, 1), Joint(mass=mu, inertia=inertia)]
    roots = frequencies(chain, np.square(TIP_BODY[case]))
    assert [float(mp.sqrt(r)) for r in roots] == pytest.approx(TIP_BODY[case], rel=1e-9)
    assert lambdas(unit_beam(masses=[(1.0, mu, inertia)]), 4) == pytest.approx(TIP_BODY[case], rel=1e-7)


def test_a_body_ahead_of_the_tip_pushes_as_if_it_were_there():
    """Moving base: the load of a body ahead is that of the same body on a light, stiff arm; backwards it is less."""
    found = {}
    for offset in (-0.1, 0.0, 0.1):
        beam = bare(unit_beam(masses=[(1.0, 0.5, 0.01, 0.0, offset)]))
        found[offset] = abs(float(beam.beam.unit[0] @ beam.base_row())) * float(beam.omega_rad_s[0])
    arm = bare(_with_arm(0.5, 0.01, 0.1), [material("arm", 12e8, 1e-9)])
    assert found[0.1] == pytest.approx(abs(float(arm.beam.unit[0] @ arm.base_row())) * float(arm.omega_rad_s[0]), rel=1e-5)
    assert found[-0.1] != pytest.approx(found[0.0], rel=1e-3) and found[0.1] != pytest.approx(found[0.0], rel=1e-3)


def _with_arm(mu, inertia, offset):
    pieces = (Piece("unit", 1.0, end_m=1.0), Piece("arm", 1.0, start_m=1.0))
    span = 1.0 + offset
    return strip(span, 1.0, [("unit", 1.0, pieces)], stations=(0.0, 1.0, span), masses=[(span, mu, inertia)])


@pytest.mark.parametrize(
    ("kappa", "printed"),
    [(0.01, [0.4159342407, 3.927804795, 7.069291233, 10.21066552]),
     (0.1, [0.7357819194, 3.938465833, 7.075616367, 10.21504648]),
     (1.0, [1.24791741, 4.031139437, 7.134132241, 10.25662107]),
     (5.0, [1.61639966, 4.267061567, 7.318372673, 10.40156263]),
     (10.0, [1.722741521, 4.399522816, 7.451056673, 10.52178476]),
     (50.0, [1.839293508, 4.610012149, 7.721756521, 10.81948856]),
     (100.0, [1.856786977, 4.649726483, 7.78267124, 10.89758843]),
     (1000.0, [1.873233409, 4.689424034, 7.846971672, 10.98467584])],
)  # fmt: skip
def test_root_rotational_spring(kappa, printed):
    """kappa (1 + cos l cosh l) = l (sin l cosh l - cos l sinh l): Chun K.R. 1972, J. Appl. Mech. 39,
    1154-1155. The same roots as the tip mass with mu = 1/kappa, an exact identity."""
    for value in printed:
        root = mp.findroot(
            lambda x: kappa * (1 / mp.cosh(x) + mp.cos(x)) - x * (mp.sin(x) - mp.cos(x) * mp.tanh(x)), value
        )
        assert float(root) == pytest.approx(value, rel=1e-9)
    # Deflection held by a spring far beyond anything the modes feel.
    assert lambdas(unit_beam(root=elastic(1e13, kappa)), 4) == pytest.approx(printed, rel=1e-7)


@pytest.mark.parametrize(
    ("kappa_t", "kappa_r", "printed"),
    [(100.0, 10.0, [1.698026606, 3.728451696, 5.763220822, 8.488461145]),
     (1000.0, 100.0, [1.853371936, 4.544126364, 7.254935541, 9.564759513])],
)  # fmt: skip
def test_elastic_root(kappa_t, kappa_r, printed):
    """Generally restrained root: method of Rao C.K. & Mirza S. 1989, J. Sound Vib. 130, 453-465."""
    roots = frequencies([Joint(k_t=kappa_t, k_r=kappa_r), Uniform(1, 1, 1)], np.square(printed), root="free")
    assert [float(mp.sqrt(r)) for r in roots] == pytest.approx(printed, rel=1e-9)
    assert lambdas(unit_beam(root=elastic(kappa_t, kappa_r)), 4) == pytest.approx(printed, rel=1e-7)


@pytest.mark.parametrize(
    ("kappa", "printed"),
    [(1.0, [2.010003322, 4.703794262, 7.856823551, 10.99629338]),
     (10.0, [2.638924696, 4.79377085, 7.875652943, 11.00310416]),
     (100.0, [3.640541719, 5.615996082, 8.084086945, 11.07484321]),
     (1000.0, [3.897800805, 6.876285557, 9.552527624, 11.95099889])],
)  # fmt: skip
def test_tip_spring(kappa, printed):
    """l^3 (1 + cos l cosh l) = kappa (cos l sinh l - sin l cosh l): Blevins 1979, ch. 8; Gorman 1975."""
    for value in printed:
        root = mp.findroot(
            lambda x: x**3 * (1 / mp.cosh(x) + mp.cos(x)) - kappa * (mp.cos(x) * mp.tanh(x) - mp.sin(x)),
            value,
        )
        assert float(root) == pytest.approx(value, rel=1e-9)
    assert lambdas(unit_beam(springs=[(1.0, kappa)]), 4) == pytest.approx(printed, rel=1e-7)
    assert lambdas(unit_beam(tip=elastic(kappa, 0.0)), 4) == pytest.approx(printed, rel=1e-7)


@pytest.mark.parametrize(
    ("x", "mu", "kappa", "printed"),
    [(0.5, 0.5, 0.0, [1.778433642, 4.032716149, 7.853988635]),
     (0.5, 1.0, 0.0, [1.700364195, 3.771661214, 7.853728976]),
     (0.75, 0.5, 0.0, [1.604104836, 4.67008287, 7.222245059]),
     (0.5, 0.0, 10.0, [2.023763129, 4.742940992, 7.854765478]),
     (0.5, 0.0, 100.0, [2.568998481, 5.143298607, 7.854841756]),
     (0.5, 0.0, 1000.0, [3.044360864, 7.065539182, 7.856401854]),
     (0.8, 0.2, 50.0, [3.010530982, 4.692222879, 7.684496328])],
)  # fmt: skip
def test_intermediate_mass_and_spring(x, mu, kappa, printed):
    """Point mass and grounded spring at x: problem class of Laura et al. and Gurgoze, J. Sound Vib.
    1980s; numbers from the exact transfer matrix."""
    chain = [Uniform(x, 1, 1), Joint(mass=mu, k_t=kappa), Uniform(1 - x, 1, 1)]
    roots = frequencies(chain, np.square(printed))
    assert [float(mp.sqrt(r)) for r in roots] == pytest.approx(printed, rel=1e-9)
    structure = unit_beam(masses=[(x, mu)] if mu else [], springs=[(x, kappa)] if kappa else [])
    assert lambdas(structure, 3) == pytest.approx(printed, rel=1e-7)
