"""What the netlist holds, as a paper: every mode as a series branch, the capacitance of the leads, how to run it."""

from __future__ import annotations

import numpy as np

from core.handover.netlist import branch_of, netlist
from core.handover.sheet.identity import title_of
from core.handover.text.document import Block, Bullets, Document, Heading, Paragraph, Table
from core.handover.text.shop import candidate_of, driven_blocks, identity, validity
from core.predict.electrics.safety import DEFERS
from core.predict.prediction import Prediction
from core.project.model import Project
from core.units import words


def netlist_document(project: Project, candidate_id: str, prediction: Prediction) -> Document:
    """The page of a candidate. SheetError where there is no netlist."""
    text = netlist(prediction)
    candidate, solved = candidate_of(project, candidate_id), prediction.solved
    told = " ".join(line.removeprefix("* ") for line in text.split("\n\n", 1)[0].splitlines()[1:])
    rows = []
    for n in range(solved.system.n_modes):
        one = branch_of(solved, n)
        rows.append((
            str(n + 1), words.frequency(float(solved.system.omega_rad_s[n]) / (2.0 * np.pi)), one.at or "by itself",
            words.part(one.inductance_h, "H"), words.part(one.resistance_ohm, "ohm"), words.part(one.capacitance_f, "F"),
        ))  # fmt: skip
    blocks: list[Block] = [
        *driven_blocks(prediction, DEFERS),
        Heading("What the file is"),
        Paragraph(told),
        Heading("Modes as series branches"),
        Table(("Mode", "Shorted", "At the lead of", "L", "R", "C"), tuple(rows), (0.7, 1.3, 1.3, 1.5, 1.5, 1.5)),
        Heading("Run it"),
        Bullets((
            "As it is, a simulator runs .ac over the band of the load and .tran of the ring-down.",
            "Node out is the deflection at the output point in millimetres, each group's lead has its name.",
            "Another load goes into the source Vload, other frequencies and times into the last lines.",
        )),
    ]  # fmt: skip
    blocks += validity(prediction)
    return Document("NETLIST", "the electronics bench", title_of(project, candidate), identity(project, candidate), tuple(blocks))
