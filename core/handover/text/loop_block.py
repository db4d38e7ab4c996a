"""The active loop of a candidate on paper: law, amplifier, sampling, margins, and how it is first closed."""

from __future__ import annotations

from collections.abc import Iterator

from core.handover.text.document import Block, Bullets, Heading, Table
from core.predict.loop.text import loop_rows
from core.predict.prediction import Prediction

FIRST_CLOSED = (
    "Close it at a tenth of the gain first; raise it while the part is touched, and open it when a tone grows.",
    "With the driven leads off, press the part and look at both signs first: one turned the wrong way drives what it should damp.",
    "The input of the loop is the only thing on the leads that listen; a probe beside it changes the loop.",
)


def loop_blocks(prediction: Prediction) -> Iterator[Block]:
    """Nothing where the loop is open."""
    loop = prediction.solved.loop
    if loop is None or not prediction.solved.candidate.loop_is_closed:
        return
    yield Heading("Active loop")
    yield Table(("", "As predicted"), loop_rows(loop), (1.6, 6.4))
    yield Bullets(FIRST_CLOSED)
