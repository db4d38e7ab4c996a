"""Orthonormal vectors, of many sets at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.beam.triangular import inverse_lower

Array = NDArray[np.float64]

DEPENDENT = 1e-5
"""A vector of which no more is left beside those before it loses digits in their products."""
SHIFT = 1e-12
"""Of the squared length of vectors: well above the rounding of their products."""
NEARLY = 0.1
"""Vectors of which so much is left beside those before them are orthonormal to a few roundings after one step."""
FAIRLY = 1e-6
"""Of energies: beside a basis of which so much is left they do no work to a thousand roundings."""
LEFT = 1e-13
"""Energies of which no more is left add nothing."""
NOTHING = 1e-9
"""A vector of which so little is left beside the others adds nothing."""
TINY = 1e-300


def orthonormal(vectors: Array) -> Array:
    """Orthonormal vectors that span the same, (..., k, n), in the order given.

    By the Cholesky factor of their products, twice unless they were nearly so (Yamamoto et al. 2015, ETNA 44,
    306: as good as Householder's unless they all but depend on each other); those that do so are first taken apart as far as
    a factor of products shifted by rounding does (Fukaya et al. 2020, SIAM J. Sci. Comput. 42, A477); what that leaves, by
    Householder's.
    """
    products = vectors @ np.swapaxes(vectors, -1, -2)
    size = np.sqrt(np.diagonal(products, axis1=-2, axis2=-1))[..., None]
    size = np.where(size > 0.0, size, 1.0)
    products = products / (size * np.swapaxes(size, -1, -2))
    for shift in (0.0, SHIFT):
        try:
            return _by_products(vectors, products, size, shift)
        except np.linalg.LinAlgError:
            continue
    return np.swapaxes(np.linalg.qr(np.swapaxes(vectors / size, -1, -2))[0], -1, -2)


def _by_products(found: Array, products: Array, size: Array, shift: float) -> Array:
    """The same by factors of the products, which the vectors over `size` have."""
    across = np.swapaxes(size, -1, -2)
    for step in range(3 if shift else 2):
        if step:
            products = found @ np.swapaxes(found, -1, -2)
        shifted = shift > 0.0 and step == 0
        lower = np.linalg.cholesky(products + shift * np.eye(products.shape[-1]) if shifted else products)
        least = np.diagonal(lower, axis1=-2, axis2=-1).min()
        if least < DEPENDENT and not shifted:
            raise np.linalg.LinAlgError
        inverse = inverse_lower(np.asarray(lower, dtype=float))
        found = (inverse if step else inverse / across) @ found
        if least > NEARLY and not shifted:
            break
    return found


def beside(vectors: Array, basis: Array) -> Array:
    """Vectors (..., k, n) made orthonormal to a basis and to each other; zero where nothing is left."""
    return _beside(vectors, vectors, basis, basis, NOTHING**2)[1]


def orthonormal_moves(loads: Array, moves: Array, first: int) -> Array:
    """Moves (..., k, n) of which loads make v = K^-1 g, combined so that their energies are one and they do no work along
    each other's loads; the `first` do not depend on each other, of the others what depends on those before is zero."""
    g, v = _apart(loads[..., :first, :], moves[..., :first, :])
    if loads.shape[-2] == first:
        return v
    return np.concatenate([v, _beside(loads[..., first:, :], moves[..., first:, :], g, v, LEFT)[1]], axis=-2)


def _beside(loads: Array, moves: Array, g: Array, v: Array, least: float) -> tuple[Array, Array]:
    """Loads and moves (..., k, n) made to do no work along g and v, which are so already, and along each other; zero where no
    more than the share `least` of the energy is left."""
    loads, moves, left = _unit(*_less(*_unit(loads, moves, 0.0)[:2], g, v), least)
    if left <= FAIRLY:
        # Once more, for what rounding left of them where little was left.
        loads, moves, left = _unit(*_less(loads, moves, g, v), least)
    if loads.shape[-2] == 1:
        return loads, moves
    try:
        return _apart_by(_symmetric(loads @ np.swapaxes(moves, -1, -2)), 0.0, loads, moves, np.ones((1, 1)))
    except np.linalg.LinAlgError:  # some are nothing or all but depend on others
        return _one_by_one(loads, moves, g, v, least)


def _one_by_one(loads: Array, moves: Array, g: Array, v: Array, least: float) -> tuple[Array, Array]:
    """The same of those that do no work along g and v."""
    same = loads is moves
    loads = loads.copy()
    moves = loads if same else moves.copy()
    for i in range(1, loads.shape[-2]):
        own, before = np.s_[..., i : i + 1, :], np.s_[..., :i, :]
        for _ in range(2):
            load = loads[own]
            move = load if same else moves[own]
            loads[own], moves[own], _ = _unit(*_less(load, move, loads[before], moves[before]), least)
    return _unit(*_less(loads, moves, g, v), least)[:2]


def _less(loads: Array, moves: Array, g: Array, v: Array) -> tuple[Array, Array]:
    share = loads @ np.swapaxes(v, -1, -2)
    taken = loads - share @ g
    return taken, taken if loads is moves else moves - share @ v


def _unit(loads: Array, moves: Array, least: float) -> tuple[Array, Array, float]:
    """Of energy one, or zero where no more than `least` is there; and the least there is."""
    left = (loads * moves).sum(axis=-1, keepdims=True)
    scale = np.where(left > least, 1.0 / np.sqrt(np.maximum(left, max(least, TINY))), 0.0)
    found = loads * scale
    return found, found if loads is moves else moves * scale, float(left.min(initial=1.0))


def _apart(loads: Array, moves: Array) -> tuple[Array, Array]:
    """Independent ones as `orthonormal_moves` wants them."""
    products = _symmetric(loads @ np.swapaxes(moves, -1, -2))
    size = np.sqrt(np.maximum(np.diagonal(products, axis1=-2, axis2=-1), TINY))[..., None]
    scaled = products / (size * np.swapaxes(size, -1, -2))
    for shift in (0.0, SHIFT):
        try:
            return _apart_by(scaled, shift, loads, moves, size)
        except np.linalg.LinAlgError:
            continue
    # All but dependent: by the eigenvectors of their products, which leave nothing where nothing is.
    values, vectors = np.linalg.eigh(scaled)
    scale = np.where(values > LEFT, 1.0 / np.sqrt(np.maximum(values, LEFT)), 0.0)
    combined = np.swapaxes(vectors, -1, -2) * scale[..., None] / np.swapaxes(size, -1, -2)
    return combined @ loads, combined @ moves


def _apart_by(products: Array, shift: float, g: Array, v: Array, size: Array) -> tuple[Array, Array]:
    """The same by Cholesky factors of their products, which loads and moves over `size` have."""
    for step in range(3 if shift else 2):
        shifted = shift > 0.0 and step == 0
        if step:
            products = _symmetric(g @ np.swapaxes(v, -1, -2))
        elif shifted:
            products = products + shift * np.eye(products.shape[-1])
        lower = np.linalg.cholesky(products)
        least = np.diagonal(lower, axis1=-2, axis2=-1).min()
        if least < DEPENDENT and not shifted:
            raise np.linalg.LinAlgError
        inverse = inverse_lower(np.asarray(lower, dtype=float))
        if not step:
            inverse = inverse / np.swapaxes(size, -1, -2)
        g, v = inverse @ g, inverse @ v
        if least > NEARLY:
            break
    return g, v


def _symmetric(a: Array) -> Array:
    return 0.5 * (a + np.swapaxes(a, -1, -2))
