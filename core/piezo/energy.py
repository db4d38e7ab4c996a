"""Modal strain energy by layer and by patch, at short circuit. Leading axes are layouts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.beam.free_strip import ACROSS, ALONG, MIXED, MODULI, SHEAR
from core.beam.mesh import Mesh
from core.beam.modes import BeamSolution
from core.beam.section import Layers, Section, at_layouts, field_term, in_segments, layers_at
from core.beam.spec import BeamSpec
from core.piezo.sheets import BondedStrips

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Sections:
    """A layout, or many, at the points of a mesh; `base` is the mesh without packages, `active` (..., k, e) tells which sheets
    lie over which elements, None without a patch."""

    spec: BeamSpec
    base: Mesh
    mesh: Mesh
    section: Section
    bonded: BondedStrips | None
    active: NDArray[np.bool_] | None

    @cached_property
    def layers(self) -> Layers:
        """The bare lay-up at the points."""
        lead = (np.arange(len(self.mesh.x_m))[:, None],) if self.spec.stacked else ()
        return layers_at(self.spec, self.mesh.x_m, self.mesh.segment, lead)

    @cached_property
    def layer_bending(self) -> Array:
        """(..., e, L, q) what each layer adds to the bending stiffness, N m^2."""
        return self._of_layers(self.spec.stiffness_pa)

    @cached_property
    def layer_loss(self) -> Array:
        """The same times the layers' loss factors."""
        return self._of_layers(self.spec.loss_pa)

    @cached_property
    def shear_loss(self) -> Array:
        """(..., e, L, q) what each layer adds to the stiffness against warping, times its loss factor, N."""
        further = self.section.further
        assert further is not None and further.shear_layers is not None
        width = self.layers.strips.width_m

        def of_layers(table: Array) -> Array:
            own = in_segments(table[SHEAR], self.spec.stacked, self.mesh.segment)
            return np.asarray(np.swapaxes(np.moveaxis(own, (0, 1), (-2, -1)), -1, -2) @ width)

        lossy, whole = of_layers(self.spec.loss_pa), of_layers(self.spec.stiffness_pa)
        return np.asarray(np.divide(lossy, whole, out=np.zeros_like(lossy), where=whole > 0.0) * further.shear_layers)

    def _of_layers(self, table: Array) -> Array:
        """Of a table as the spec holds it."""
        stiffness = in_segments(table, self.spec.stacked, self.mesh.segment)
        stiffness = np.moveaxis(stiffness, (1, 2, 0), (-3, -2, -1))
        at, layers = self.section, self.layers
        everywhere = np.ones(stiffness.shape[:-1])
        out = layers.strips.energy(at.neutral_axis_m, stiffness, layers.moments, everywhere)
        if at.covered is not None:
            c = at.covered
            lanes = stiffness[c.index]
            cut = np.einsum("nsl,nlpc->nspc", c.lane, lanes)
            ones = np.ones(cut.shape[:-1])
            out[c.index] = c.strips.energy(at.neutral_axis_m[c.index], cut, layers.moments[c.index], ones)
        return out

    @cached_property
    def sheet_bending(self) -> Array:
        """(n, k, q) what each bonded sheet adds in the covered elements, N m^2."""
        assert self.bonded is not None and self.section.covered is not None
        c, strips = self.section.covered, self.bonded.strips
        lead, neutral = c.index[:-1], self.section.neutral_axis_m[self.section.covered.index]
        t, mid = (at_layouts(v, lead, 1)[..., None] for v in (strips.thickness_m, strips.mid_m))
        z = strips.on_top[:, None] * c.top_m[:, None, :] + mid
        moments = np.stack(np.broadcast_arrays(t + 0.0 * z, t * z, t * (z * z + t * t / 12.0)), axis=-2)
        stiffness = at_layouts(strips.stiffness_pa, lead, 2)[:, None]
        stiffness = np.broadcast_to(stiffness, (*c.there.shape, MODULI))
        own = c.strips.energy(neutral, stiffness, moments, c.there)
        term = at_layouts(field_term(strips), lead, 2)
        across = c.strips.across_curvature(neutral)
        width = np.swapaxes(c.there, -1, -2)
        plain = width @ c.strips.width_m
        once, twice = width @ (c.strips.width_m * across), width @ (c.strips.width_m * across * across)
        field = term[..., ALONG, None] * plain - 2.0 * term[..., MIXED, None] * once
        return np.asarray(own + field + term[..., ACROSS, None] * twice)


@dataclass(frozen=True)
class Density:
    """(..., N, e, q) integration weight times curvature squared over omega squared, and the same of the section's
    shear angle (None without): times a stiffness and summed, shares of the energy.

    The curvature is that of a section free across; what holding it adds is left out, and shares are scaled to the
    `part` (..., N) that layers and packages hold of the energy (the rest is in springs and floating electrodes).
    """

    bent: Array
    sheared: Array | None
    part: Array

    def whole(self, section: Section) -> Array:
        """(..., N) what all layers and sheets hold by this density: their stiffnesses add up to the section's."""
        found = np.einsum("...eq,...neq->...n", section.bending, self.bent)
        if self.sheared is not None and section.further is not None and section.further.shear_layers is not None:
            found = found + np.einsum("...elq,...neq->...n", section.further.shear_layers, self.sheared)
        return np.asarray(found)


def energy_density(beam: BeamSolution, omega: Array) -> Density:
    """Density of mass-normalised modes of these frequencies."""
    bending, vectors = beam.bending, beam.mode_vectors(omega.shape[-1])
    scale = bending.mesh.weight_m[..., None, :, :] / omega[..., None, None] ** 2
    bent = beam.gauss_curvature(omega.shape[-1]) ** 2 * scale
    further = bending.section.further
    _, points, z = bending.parts(bending.before_updates(beam.unit[..., : omega.shape[-1], :]))
    part = (points * points).sum(axis=(-1, -2)) + (z * z).sum(axis=-1)
    if further is None or further.shear_layers is None:
        return Density(bent, None, part)
    slot = further.slots.of(further.warp)[-1]
    return Density(bent, bending.strains(vectors)[..., slot, :] ** 2 * scale, part)


@dataclass(frozen=True, eq=False)
class EnergyShares:
    """Shares of each mode's strain energy, from the density of `energy_density`; all arrays end in the mode axis (N,). Each is
    worked out when asked for: a frame shows what ceramics hold, and no layer."""

    at: Sections
    density: Density
    n_plates: int

    @cached_property
    def layers(self) -> Array:
        """(..., n_layers, N)"""
        found = np.einsum("...elq,...neq->...ln", self.at.layer_bending, self.density.bent)
        further = self.at.section.further
        if self.density.sheared is not None and further is not None and further.shear_layers is not None:
            found = found + np.einsum("...elq,...neq->...ln", further.shear_layers, self.density.sheared)
        return np.asarray(found * self._scale)

    @cached_property
    def ceramic(self) -> Array:
        """(..., J, N)"""
        return self._of_plates(True)

    @cached_property
    def package(self) -> Array:
        """(..., J, N) ceramic, skins and bond together."""
        return self._of_plates(False)

    @cached_property
    def _sheets(self) -> Array | None:
        """(..., k, N) of every bonded sheet; None without any."""
        if self.at.bonded is None or self.at.section.covered is None:
            return None
        return _of_sheets(self.at, self.at.sheet_bending, self.density.bent)

    @cached_property
    def _scale(self) -> Array:
        """(..., 1, N), 1 where no further functions move: see `Density`."""
        if self.at.section.further is None:
            return np.ones((1, 1))
        return np.asarray(self.density.part / self.density.whole(self.at.section))[..., None, :]

    def _of_plates(self, ceramic: bool) -> Array:
        bent = self.density.bent
        out = np.zeros((*bent.shape[:-3], self.n_plates, bent.shape[-3]))
        if self._sheets is not None and self.at.bonded is not None:
            for j in range(self.n_plates):
                mine = self.at.bonded.plate == j
                if ceramic:
                    mine = mine & self.at.bonded.is_ceramic
                out[..., j, :] = self._sheets[..., mine, :].sum(axis=-2)
        return np.asarray(out * self._scale)


def loss_factors(at: Sections, counted: Density) -> Array:
    """(..., N) eta_n = sum eta_i U_i / U (Johnson & Kienholz 1982, AIAA J. 20, 1284)."""
    density = counted.bent
    eta = np.einsum("...elq,...neq->...n", at.layer_loss, density)
    if counted.sheared is not None:
        eta = eta + np.einsum("...elq,...neq->...n", at.shear_loss, counted.sheared)
    if at.bonded is not None and at.section.covered is not None:
        loss = at_layouts(at.bonded.loss_factor, at.section.covered.index[:-1], 1)
        eta = eta + _of_sheets(at, loss[..., None] * at.sheet_bending, density).sum(axis=-2)
    if at.section.further is None:
        return np.asarray(eta)
    return np.asarray(eta * counted.part / counted.whole(at.section))


def _of_sheets(at: Sections, bending: Array, density: Array) -> Array:
    """(..., k, N) sums over the covered elements of what sheets add, (n, k, q)."""
    assert at.section.covered is not None
    index = at.section.covered.index
    there = np.moveaxis(density, -3, -2)[index]
    each = bending @ np.swapaxes(there, -1, -2)
    out = np.zeros((*density.shape[:-3], *each.shape[1:]))
    if len(index) == 1:
        return np.asarray(each.sum(axis=0))
    np.add.at(out, index[:-1], each)
    return out
