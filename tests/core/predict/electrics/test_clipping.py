"""The sign of an amplifier that goes to its rail, and the supply that holds."""

import pytest
from msgspec.structs import replace

from core.handover.documents import Order, Results, kind, markdown_of
from core.predict.predict import predict
from core.project import library
from core.project.edit import with_candidate
from core.units import words


@pytest.fixture(scope="module")
def resonant():
    return replace(library.example("lab-beam"), active="C")


def test_it_names_mode_frequency_and_the_load_up_to_which_what_is_told_holds(resonant):
    found = predict(resonant)
    sign = found.clips
    assert sign.title == f"Mode 1 clips, {found.modes[0].f_short_hz:.2f} Hz"
    (one,) = found.solved.board.simulated
    assert one.clips_at < 1.0 and one.clips_at_words in sign.detail and f"of {words.damping(found.modes[0].zeta)} is left" in sign.detail
    assert [r.text for r in found.remarks if r.code == "clipping"] == [f"{sign.title}: {sign.detail} {sign.cure}"]


def test_the_supply_it_names_holds_and_one_volt_less_does_not(resonant):
    sign = predict(resonant).clips
    candidate = sign.holds.candidate
    assert predict(with_candidate(resonant, candidate)).clips is None
    less = replace(candidate, build=replace(candidate.build, supply_v=candidate.build.supply_v - 1.0))
    assert predict(with_candidate(resonant, less)).clips is not None


def test_nothing_simulated_has_no_sign_and_works_nothing_out():
    found = predict(library.example("lab-beam"))
    assert found.clips is None
    assert "board" not in found.solved.__dict__


def test_papers_tell_it(resonant):
    found = predict(resonant)
    told = markdown_of(Order(resonant, "C", Results({"C": found})), kind("record"))
    assert found.clips.title in told and found.clips.cure in told
