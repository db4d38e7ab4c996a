"""No passive circuit makes an unstable pole, whatever its values."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from core.circuit.registry import CIRCUITS
from core.circuit.spectrum import spectra, spectrum_at
from core.circuit.system import Connection
from tests.core.circuit.scenes import three_modes

RESISTANCE = st.one_of(st.just(0.0), st.floats(-15, 15).map(lambda p: 10.0**p))
INDUCTANCE = st.one_of(st.just(0.0), st.floats(-15, 12).map(lambda p: 10.0**p))
CAPACITANCE = st.floats(-15, 6).map(lambda p: 10.0**p)
INPUT = st.one_of(st.just(0.0), st.floats(-12, 9).map(lambda p: 10.0**p))


@st.composite
def circuits(draw):
    kind = CIRCUITS[draw(st.sampled_from([key for key, kind in CIRCUITS.items() if not kind.active]))]
    of_unit = {"kohm": RESISTANCE, "H": INDUCTANCE, "nF": CAPACITANCE, "uS": st.one_of(st.just(0.0), INPUT)}
    given_values = {p.name: draw(of_unit[p.unit]) for p in kind.parameters}
    return Connection(kind, kind.complete(given_values), draw(INPUT))


@settings(max_examples=150, deadline=None, derandomize=True)
@given(
    st.lists(circuits(), min_size=1, max_size=2), st.sampled_from([0.0, 0.02]), st.sampled_from([0.0, 0.004])
)
def test_any_values_leave_every_pole_stable(connections, loss, zeta):
    system = three_modes(*connections, loss=loss, zeta=zeta)
    for spectrum in (*spectra(system, 3), spectrum_at(system, 1.0)):
        assert not spectrum.unstable.any()
        assert np.isfinite(spectrum.value_rad_s).all()
    for n, spectrum in enumerate(spectra(system, 3)):
        own = spectrum.damping_of(n)
        assert np.isnan(own) or own >= -1e-9


def test_a_circuit_that_feeds_is_called_unstable():
    """The check itself can fail: a negative resistance at the leads makes the modes grow."""
    resistor = CIRCUITS["resistor"]
    spectrum = spectrum_at(three_modes(Connection(resistor, {"resistance_ohm": -3.0})), 1.0)
    assert spectrum.unstable.any()
