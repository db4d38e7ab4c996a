"""Which mode a layout serves, for new patches, copies and studies alike."""

from __future__ import annotations

from msgspec.structs import replace

from app.panels.edits import group_of, with_new_patch, with_patch_copied
from core.project import library
from core.project.edit import with_group
from core.project.served import served_mode
from core.project.service import Asked


def louvre():
    return library.example("louvre-blade")


def test_a_copy_of_a_tuned_patch_keeps_circuit_mode_and_rule():
    project = louvre()
    copied, new_id = with_patch_copied(project, "P1")
    old, new = group_of(project, "P1").circuit, group_of(copied, new_id).circuit
    assert old.tuning.mode == 2
    assert new == old


def test_a_new_patch_is_tuned_on_the_mode_the_layout_serves():
    added, new_id = with_new_patch(louvre())
    assert group_of(added, new_id).circuit.tuning.mode == 2


def test_the_patchs_own_circuit_comes_before_the_others_and_what_is_asked_for_after_them():
    project = louvre()
    added, new_id = with_new_patch(project)
    group = group_of(added, new_id)
    tuned = replace(group.circuit, tuning=replace(group.circuit.tuning, mode=3))
    added = with_group(added, added.active, replace(group, circuit=tuned))
    assert served_mode(added, added.candidate(), new_id) == 3
    assert served_mode(added, added.candidate(), "P1") == 2
    assert served_mode(added, added.candidate()) == 2
    bare = replace(project.candidate(), groups=())
    asked = replace(project, service=replace(project.service, asked=Asked(modes=(4,), values=(-0.2,))))
    assert served_mode(asked, bare) == 4


def test_a_mode_that_is_not_shown_is_never_served():
    project = louvre()
    few = replace(project, view=replace(project.view, modes_shown=1))
    assert served_mode(few, few.candidate()) == 1
