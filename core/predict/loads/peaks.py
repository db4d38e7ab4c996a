"""The largest values that a load gives readings of the voltages at the leads.

A swept sine: the amplitude at the worst frequency of its band. A random load: three times the root mean square.
What happens once: the extremes of the ringing, searched in time, where every term is a voltage exp(r t) and
what reads it answers at the rate r.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from core.circuit.at_rest import AT_REST
from core.circuit.spectrum import Spectrum
from core.circuit.system import CoupledSystem
from core.circuit.transfer import Functional, forced
from core.piezo.coupled_beam import CoupledBeam
from core.predict.forcing import amplitude, forcing
from core.predict.grid import response_grid
from core.predict.loads.extremes import extremes_in_time
from core.predict.loads.loading import SIGMAS, squares
from core.predict.loads.mean_square import density_points
from core.predict.loads.random_load import is_random
from core.predict.loads.transient import Motion, held_bend, is_transient, transient
from core.predict.response import Side, resonances
from core.project.model import Project
from core.project.service import Load, Release

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
Read = Callable[[ComplexArray], ComplexArray]
"""s (F,) to what is read per volt on each port, (F, K, P)."""

POINTS = 240


def peaks(
    project: Project, beam: CoupledBeam, system: CoupledSystem, found: list[Spectrum], load: Load, read: Read
) -> Array:
    """(K,) largest size of every reading under one load; `found` are the poles of `system`."""
    item = forcing(beam, load, project.view)
    if is_transient(load):
        size: Array = np.zeros(read(np.array([AT_REST])).shape[1])
        if isinstance(load, Release):
            held = held_bend(system, item, load.deflection_m)[0]
            size = np.abs(read(np.array([AT_REST]))[0] @ held)
        for stretch in transient(system, item):
            moved = stretch.whole
            rows = _rows(moved, read)
            there = extremes_in_time(moved.rate, rows, np.arange(len(rows)), len(rows), stretch.length_s)
            size = np.maximum(size, np.maximum(there.high, -there.low))
        return size
    centres, widths = resonances(Side(system, item), found, None, len(found))
    if is_random(load):
        points, weights = density_points(load, centres, widths)
        return np.asarray(SIGMAS * np.sqrt(weights @ _sizes(system, item.aim.load, points, read) ** 2))
    points = response_grid(item.aim.band_rad_s, centres, widths, POINTS)
    return np.asarray(amplitude(load) * _sizes(system, item.aim.load, points, read).max(axis=0))


def squared_once(project: Project, beam: CoupledBeam, system: CoupledSystem, load: Load, read: Read) -> Array:
    """(K,) time integral of the square of every reading under a load that happens once; nothing under others."""
    if not is_transient(load):
        return np.zeros(read(np.array([AT_REST])).shape[1])
    out: Array = np.zeros(read(np.array([AT_REST])).shape[1])
    for stretch in transient(system, forcing(beam, load, project.view)):
        moved = stretch.whole
        for k, row in enumerate(_rows(moved, read)):
            out[k] += squares(moved.rate, row[None], stretch.length_s)[0, 0]
    return out


def _rows(moved: Motion, read: Read) -> ComplexArray:
    """(K, k) readings of a motion, an amplitude for each of its rates."""
    rates = np.where(moved.rate == 0.0, AT_REST, moved.rate)
    return (read(rates) @ moved.voltage.T[..., None])[..., 0].T


def _sizes(system: CoupledSystem, load: Functional, points: Array, read: Read) -> Array:
    """(F, K) per unit of the load."""
    volts = forced(system, load, points).voltage
    return np.abs((read((1j * points).astype(complex)) @ volts[..., None])[..., 0])
