"""A limit's name on the drawing, in one or two words."""

import pytest

from app.drawing.limit_marks import short_name


@pytest.mark.parametrize(
    ("name", "short"),
    [
        ("Field along the poling, leads open", "open-lead field"), ("Field against the poling, static", "static field"),
        ("Field against the poling, by heat", "field by heat"), ("Field along the poling, driven", "driven field"),
        ("Field along the poling, in vibration", "field in vibration"), ("Tensile strain, static", "tension"),
        ("Strain in vibration", "strain in vibration"), ("Bond shear at the ends, in vibration", "bond shear in vibration"),
    ],
)  # fmt: skip
def test_a_field_is_told_by_what_makes_it(name, short):
    assert short_name(name) == short
