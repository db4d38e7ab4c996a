"""Charts take turns in the frames of a drag."""

from __future__ import annotations

import itertools

import pytest

from app.results.pace import EVERY, Pace


def drawn(frame_s: float, frames: int, monkeypatch: pytest.MonkeyPatch, busy_every: int = 0) -> list[str | None]:
    clock = itertools.count()
    monkeypatch.setattr("app.results.pace.time.perf_counter", lambda: frame_s * next(clock))
    pace = Pace()
    return [pace.turn(("a", "b"), busy=bool(busy_every) and frame % busy_every == 0) for frame in range(frames)]


@pytest.mark.parametrize("frame_s", [0.004, 0.010, 0.060, 0.5])
def test_each_comes_fifteen_times_a_second_or_in_one_frame_of_four_and_never_two_at_once(frame_s, monkeypatch):
    turns = drawn(frame_s, 400, monkeypatch)
    assert turns[:2] == ["a", "b"]
    for name in ("a", "b"):
        places = [place for place, turn in enumerate(turns) if turn == name]
        gaps = {later - earlier for earlier, later in itertools.pairwise(places)}
        assert min(gaps) >= EVERY and min(gaps) * frame_s >= 1 / 15 - 1e-9
        assert max(gaps) <= max(EVERY, 1 / 15 / frame_s + 2)


def test_a_busy_frame_is_left_to_what_makes_it_busy(monkeypatch):
    turns = drawn(0.010, 60, monkeypatch, busy_every=3)
    later = [place for place, turn in enumerate(turns) if turn is not None and place > 1]
    assert later and all(place % 3 for place in later)


def test_nothing_in_sight_has_no_turn():
    assert Pace().turn((), busy=False) is None
