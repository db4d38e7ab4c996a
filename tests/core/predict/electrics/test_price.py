"""What it costs to miss a circuit value."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.project.candidate import Circuit, Tuning
from tests.core.predict.scenes import RESISTOR, lab, two_groups, with_candidate

TUNED = Circuit("series R-L", tuning=Tuning(1, "optimum"))


def by_name(project, group: int = 0):
    return {price.name: price for price in predict(project).groups[group].prices}


def with_value(project, name: str, value: float, group: int = 0):
    """The circuit in effect with one value moved, by hand."""
    candidate = project.candidate()
    here = predict(project)
    groups = tuple(
        replace(g, circuit=Circuit(r.circuit, {v.name: v.value for v in r.values} | ({name: value} if j == group else {})))
        for j, (g, r) in enumerate(zip(candidate.groups, here.groups, strict=True))
    )
    return predict(with_candidate(project, replace(candidate, groups=groups)))


@pytest.mark.parametrize("kind", ["resistor", "series R-L + C", "negative C parallel R", "negative C series R"])
def test_the_curve_is_the_prediction_with_that_value(kind):
    """At the ends of each curve and at the miss, to what the many-layout route differs by."""
    values = {"negative_capacitance_f": 9e-8 if "series" in kind else 3e-8} if kind.startswith("negative") else {}
    project = lab(circuit=Circuit(kind, values, Tuning(1)))
    for price in predict(project).groups[0].prices:
        if price.name == "leads_f":
            continue
        for k in (0, len(price.values) - 1):
            alone = with_value(project, price.name, price.values[k]).modes[0].zeta
            assert price.target[k] == pytest.approx(alone, rel=1e-5, nan_ok=True)
        alone = with_value(project, price.name, price.present * price.missed).modes[0].zeta
        assert price.high[0] == pytest.approx(alone, rel=1e-5)
        assert price.values[[0, -1]] / price.present == pytest.approx([0.5, 2.0])
        assert price.present in price.values


def test_nothing_is_better_than_the_tuned_value():
    for price in by_name(lab(circuit=TUNED)).values():
        assert (price.target <= price.at_present[0] * (1 + 1e-6)).all() or price.name == "leads_f"
    prices = by_name(lab(circuit=TUNED))
    assert prices["inductance_h"].tuned == prices["inductance_h"].present
    assert 0.2 < prices["inductance_h"].cost < 0.9


def test_a_fixed_value_is_told_what_is_best():
    best = by_name(lab(circuit=Circuit("resistor", tuning=Tuning(1, "optimum"))))["resistance_ohm"].present
    price = by_name(lab(circuit=Circuit("resistor", {"resistance_ohm": 0.4 * best})))["resistance_ohm"]
    assert price.present == 0.4 * best and price.tuned == pytest.approx(best, rel=1e-6)
    assert price.mode == 1


def test_a_missed_resistor_costs_what_hagood_and_von_flotow_say():
    """zeta = K^2 tau/(2 (1 + tau^2 (1 + K^2))): from its best, a factor of two to either side leaves four fifths
    (1991), the dielectric's own loss aside."""
    project = lab(circuit=RESISTOR)
    found = predict(without_loss(project))
    price, inherent = found.groups[0].prices[0], found.modes[0].zeta_inherent
    for side in (price.low, price.high):
        assert (side[0] - inherent) / (price.at_present[0] - inherent) == pytest.approx(0.8, abs=0.01)
    assert price.sentence.startswith("A factor of two in R costs mode 1")


def without_loss(project):
    packages = tuple(
        replace(p, ceramic=replace(p.ceramic, tan_delta=replace(p.ceramic.tan_delta, value=0.0))) for p in project.packages
    )
    return replace(project, packages=packages)


def test_ten_per_cent_of_the_leads_detune_a_resonant_circuit_as_five_of_the_frequency_do():
    prices = by_name(lab(circuit=TUNED))
    by_c, by_l = prices["leads_f"], prices["inductance_h"]
    assert by_c.missed == 1.10 and by_l.missed == 1.05
    assert by_l.cost < by_c.cost


def test_one_branch_s_miss_is_told_of_every_mode_and_group():
    project = two_groups(lab(modes_shown=3), TUNED, replace(TUNED, tuning=Tuning(2, "optimum")))
    second = by_name(project, 1)["inductance_h"]
    assert second.mode == 2 and second.damping.shape == (3, len(second.values))
    assert np.isfinite(second.damping).all()
    assert second.low[1] < 0.8 * second.at_present[1]


def test_a_curve_stops_where_the_circuit_drifts():
    project = lab(circuit=Circuit("negative C parallel R", {"negative_capacitance_f": 5.5e-8}, Tuning(1)))
    price = by_name(project)["negative_capacitance_f"]
    limit = predict(project).groups[0].stability.here.setting.limit_f
    assert np.array_equal(np.isnan(price.target), price.values > limit)
    assert "does not hold" in price.sentence


def test_a_wire_and_open_leads_have_no_price():
    for kind in ("shorted", "open"):
        assert predict(lab(circuit=Circuit(kind))).groups[0].prices == ()


def test_a_range_of_its_own_is_followed_by_the_curve():
    group = predict(lab(circuit=TUNED)).groups[0]
    usual = {price.name: price for price in group.prices}
    here = usual["inductance_h"].present
    (price,) = group.prices_over({"inductance_h": (0.9 * here, 1.3 * here)})
    assert price.name == "inductance_h" and price.present == here and here in price.values
    assert price.values[[0, -1]] == pytest.approx([0.9 * here, 1.3 * here])
    assert price.cost == pytest.approx(usual["inductance_h"].cost, rel=1e-9)
    known = np.interp(np.log(price.values), np.log(usual["inductance_h"].values), usual["inductance_h"].target)
    assert price.target == pytest.approx(known, rel=0.2)


def test_what_a_branch_off_tune_does_to_the_others_is_a_number():
    price = by_name(lab(circuit=Circuit("current-flowing 2", {}, Tuning(1, "optimum"))))["inductance_2_h"]
    assert price.mode == 2 and price.others == (1,)
    assert price.cost > 0.3 > price.cost_of(1) > 0.005
    assert f"mode 1 {price.cost_of(1) * 100:.1f} %" in price.sentence
