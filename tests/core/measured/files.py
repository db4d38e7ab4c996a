"""Measured files of every kind, as boxes write them, from one record."""

from __future__ import annotations

from pathlib import Path

import numpy as np

RATE_HZ = 5000.0


def record(count: int = 2000, rate_hz: float = RATE_HZ) -> tuple[np.ndarray, np.ndarray]:
    """Times and a decaying swing."""
    t = np.arange(count) / rate_hz
    return t, np.exp(-3.0 * t) * np.sin(2 * np.pi * 19.0 * t)


def lines(*columns, form: str = "{:.6f}", parted: str = ",", mark: str = ".", end: str = "") -> str:
    """Rows of a table as text."""
    rows = (parted.join(form.format(v).replace(".", mark) for v in row) + end for row in zip(*columns, strict=True))
    return "\n".join(rows) + "\n"


def universal(path: Path, sets: list[dict], units: dict | None = None) -> Path:
    """A universal file of those datasets 58, written by pyuff."""
    import pyuff

    file = pyuff.UFF(str(path))
    mode = "overwrite"
    if units is not None:
        file._write_set(pyuff.prepare_164(**units), mode)
        mode = "add"
    for given in sets:
        file._write_set(pyuff.prepare_58(**given), mode)
        mode = "add"
    return path


def function(data, step: float, *, kind: int, quantity: int, over: int = 0, binary: int = 0, node: int = 3) -> dict:
    """One dataset 58 over an even axis: `kind` 1 time, 4 response function, 6 coherence; `quantity` 8
    displacement, 12 acceleration, 13 force."""
    x = np.arange(len(data)) * step
    return {
        "binary": binary, "func_type": kind, "rsp_node": node, "rsp_dir": 3, "ref_dir": 3, "ref_node": 1, "data": data,
        "x": x, "id1": "tip", "id2": "", "id3": "", "id4": "", "id5": "", "ver_num": 0, "load_case_id": 0,
        "rsp_ent_name": "NONE", "ref_ent_name": "NONE", "abscissa_spacing": 1,
        "abscissa_spec_data_type": 17 if kind == 1 else 18, "ordinate_spec_data_type": quantity,
        "orddenom_spec_data_type": over, "z_axis_spec_data_type": 0, "abscissa_min": 0.0, "abscissa_inc": step,
        "num_pts": len(data), "ord_data_type": 6 if np.iscomplexobj(data) else 4,
    }  # fmt: skip
