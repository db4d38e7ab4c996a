"""What is asked for, against a prediction: met or missed per mode, and by how much.

One function judges for every place that says it: the answer in the window, candidates, the comparison
and the decision record.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite, isnan, log, pi

from msgspec.structs import replace

from core.predict.forcing import active_load
from core.predict.mode_result import ModeResult
from core.predict.predict import predict
from core.predict.prediction import Prediction
from core.project.model import Project
from core.project.served import tuned_modes
from core.project.service import Asked


@dataclass(frozen=True)
class Verdict:
    """One thing asked for.

    mode : from 1; None for the ring-down. wanted, reached : in the unit of the asked quantity (share
    of the peak before, damping ratio, s), `reached` None where there is nothing to judge, and then
    `met` is None and `why` says it. short : how far it is missed in the same unit, negative: to spare.
    """

    mode: int | None
    wanted: float
    reached: float | None
    met: bool | None
    short: float
    why: str = ""


@dataclass(frozen=True)
class Answer:
    """The prediction at the temperature and under the load asked for, and what it says.

    `met` is False as soon as one verdict is, None where nothing is asked or one cannot be judged.
    """

    asked: Asked
    temperature_c: float
    load: str
    prediction: Prediction
    verdicts: tuple[Verdict, ...]

    @property
    def met(self) -> bool | None:
        found = [verdict.met for verdict in self.verdicts]
        if False in found:
            return False
        return True if found and None not in found else None


def answer(project: Project, candidate_id: str | None = None, shown: Prediction | None = None) -> Answer:
    """What a valid project's candidate (None: the active one) does of what is asked for.

    `shown`, the candidate's prediction, is used where it is already that at the temperature and under
    the load asked for; else another is made. KeyError as `predict`.
    """
    asked, service = project.service.asked, project.service
    if shown is None or not is_as_shown(project):
        shown = predict(under_asked(project), candidate_id, temperature_c=_temperature(project))
    return Answer(
        asked=asked,
        temperature_c=service.reference_c if asked.temperature_c is None else asked.temperature_c,
        load=active_load(under_asked(project)).name,
        prediction=shown,
        verdicts=verdicts(asked, shown),
    )


def is_as_shown(project: Project) -> bool:
    """Whether the plain prediction is already made for what is asked for."""
    return _temperature(project) is None and under_asked(project) is project


def under_asked(project: Project) -> Project:
    """The project with the asked load active and a motion looked at, not a patch's strain or voltage."""
    asked, service, view = project.service.asked, project.service, project.view
    if not asked.modes:
        return project
    if asked.load not in (None, service.active_load):
        project = replace(project, service=replace(service, active_load=asked.load))
    if view.output in ("strain", "voltage", "current"):
        project = replace(project, view=replace(view, output="receptance"))
    return project


def _temperature(project: Project) -> float | None:
    """None where it is the reference temperature."""
    asked = project.service.asked
    if not asked.modes or asked.temperature_c == project.service.reference_c:
        return None
    return asked.temperature_c


def verdicts(asked: Asked, prediction: Prediction) -> tuple[Verdict, ...]:
    """Met or missed, mode by mode; a settling time is one of the whole ring-down."""
    if not asked.modes:
        return ()
    if asked.quantity == "settling":
        wanted, ring = asked.values[0], prediction.ring_down
        if prediction.unstable or isnan(ring.settle_after_s):
            return (Verdict(None, wanted, None, False, inf, "unstable"),)
        return (_judged(None, wanted, ring.settle_after_s, ring.settle_after_s - wanted),)
    return tuple(_of_mode(asked, mode, prediction) for mode in asked.modes)


def _of_mode(asked: Asked, number: int, prediction: Prediction) -> Verdict:
    wanted = asked.value(number)
    mode = next((m for m in prediction.modes if m.number == number), None)
    if mode is None:
        return Verdict(number, wanted, None, None, 0.0, f"only {len(prediction.modes)} modes are shown")
    if isnan(mode.zeta) or prediction.unstable:
        return Verdict(number, wanted, None, False, inf, "unstable")
    if asked.quantity == "damping":
        return _judged(number, wanted, mode.zeta, wanted - mode.zeta)
    if mode.peak_change_db is None or not isfinite(mode.peak_change_db):
        return Verdict(number, wanted, None, None, 0.0, "no peak at the output in the load's band")
    reached = 10.0 ** (mode.peak_change_db / 20.0) - 1.0
    return _judged(number, wanted, reached, reached - wanted)


def _judged(number: int | None, wanted: float, reached: float, short: float) -> Verdict:
    return Verdict(number, wanted, reached, short <= 0.0, short)


def peak_wanted(asked: Asked, number: int) -> float | None:
    """The change wanted of a mode's peak, as a share of what it was; None where it is not asked for."""
    return asked.value(number) if asked.quantity == "peak" and number in asked.modes else None


def asked_modes(project: Project) -> tuple[int, ...]:
    """The modes the question is about: those asked for, else those the circuits are tuned on, else the first."""
    asked = project.service.asked.modes
    if asked:
        return asked
    return tuple(sorted(set(tuned_modes(project.candidate())))) or (1,)


def damping_needed(asked: Asked, mode: ModeResult, settle_to: float) -> float | None:
    """The damping ratio at which a mode would about do what is asked of it; None where nothing is.

    A peak is taken as one over the damping and a ring-down as this mode's alone: right for a mode
    that stays one peak, which two coupled with a resonant circuit do not.
    """
    if mode.number not in asked.modes:
        return None
    if asked.quantity == "damping":
        return asked.value(mode.number)
    if asked.quantity == "settling":
        return -log(settle_to) / (2 * pi * mode.f_short_hz * asked.values[0])
    return mode.zeta_before / (1.0 + asked.value(mode.number))
