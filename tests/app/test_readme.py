"""What the README shows a script works as it stands there."""

from __future__ import annotations

import re
from pathlib import Path

from core.predict.predict import predict
from core.project import library, store

README = Path(__file__).parents[2] / "README.md"


def test_the_script_of_the_readme_runs(tmp_path, monkeypatch, capsys):
    (script,) = re.findall(r"```python\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    monkeypatch.chdir(tmp_path)
    store.save(library.example("lab-beam"), "lab-beam.quietspan")
    exec(compile(script, "README.md", "exec"), {})
    lines = capsys.readouterr().out.splitlines()
    assert [line.split(":")[0] for line in lines] == ["5 mm", "20 mm", "40 mm"]
    moved = store.load("moved.quietspan")
    assert moved.candidate("A").patches[0].x_start_m == 0.04
    assert lines[-1].endswith(f"{predict(moved, 'A').modes[0].zeta:.4f}")


def test_every_option_of_a_study_is_told_in_the_readme():
    from app.cli.commands import parser

    told = README.read_text(encoding="utf-8")
    verbs = next(action for action in parser()._actions if action.dest == "command").choices
    for name, verb in verbs.items():
        assert f"quietspan {name}" in told or name in ("template", "record", "card")
        for action in verb._actions:
            for option in action.option_strings:
                assert option in ("-h", "--help") or option in told, option
