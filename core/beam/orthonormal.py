"""Orthonormal vectors, of many sets at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

DEPENDENT = 1e-5
"""A vector of which no more is left beside those before it loses digits in their products."""
SHIFT = 1e-12
"""Of the squared length of vectors: well above the rounding of their products."""
NEARLY = 0.1
"""Vectors of which so much is left beside those before them are orthonormal to a few roundings after one step."""
LEFT = 1e-13
"""The same of energies."""
NOTHING = 1e-9
"""A vector of which so little is left beside the others adds nothing."""


def orthonormal(vectors: Array) -> Array:
    """Orthonormal vectors that span the same, (..., k, n), in the order given.

    By the Cholesky factor of their products, twice unless they were nearly so (Yamamoto et al. 2015, ETNA 44,
    306: as good as Householder's unless they all but depend on each other); those that do so are first taken apart as far as
    a factor of products shifted by rounding does (Fukaya et al. 2020, SIAM J. Sci. Comput. 42, A477); what that leaves, by
    Householder's.
    """
    size = np.sqrt((vectors * vectors).sum(axis=-1, keepdims=True))
    scaled = vectors / np.where(size > 0.0, size, 1.0)
    for shift in (0.0, SHIFT):
        try:
            return _by_products(scaled, shift)
        except np.linalg.LinAlgError:
            continue
    return np.swapaxes(np.linalg.qr(np.swapaxes(scaled, -1, -2))[0], -1, -2)


def _by_products(found: Array, shift: float) -> Array:
    if shift:
        products = found @ np.swapaxes(found, -1, -2)
        products[..., range(products.shape[-1]), range(products.shape[-1])] += shift
        found = np.linalg.inv(np.linalg.cholesky(products)) @ found
    for _ in range(2):
        lower = np.linalg.cholesky(found @ np.swapaxes(found, -1, -2))
        least = np.diagonal(lower, axis1=-2, axis2=-1).min()
        if least < DEPENDENT:
            raise np.linalg.LinAlgError
        found = np.linalg.inv(lower) @ found
        if least > NEARLY:
            break
    return found


def beside(vectors: Array, basis: Array) -> Array:
    """Vectors (..., k, n) made orthonormal to a basis and to each other; zero where nothing is left."""
    out: list[Array] = []
    for i in range(vectors.shape[-2]):
        v = vectors[..., i : i + 1, :]
        size = np.sqrt((v * v).sum(axis=-1, keepdims=True))
        v = v / np.where(size > 0.0, size, 1.0)
        for _ in range(2):
            v = v - (v @ np.swapaxes(basis, -1, -2)) @ basis
            left = np.sqrt((v * v).sum(axis=-1, keepdims=True))
            v = np.where(left > NOTHING, v / np.where(left > 0.0, left, 1.0), 0.0)
        basis = np.concatenate([basis, v], axis=-2)
        out.append(v)
    return np.concatenate(out, axis=-2) if out else vectors


def orthonormal_moves(loads: Array, moves: Array, first: int) -> Array:
    """Moves (..., k, n) of which loads make v = K^-1 g, combined so that their energies are one and they do no work along
    each other's loads; the `first` do not depend on each other, of the others what depends on those before is zero."""
    energy = (loads * moves).sum(axis=-1, keepdims=True)
    size = np.where(energy > 0.0, np.sqrt(np.maximum(energy, 0.0)), np.inf)
    loads, moves = loads / size, moves / size
    g, v = _apart(loads[..., :first, :], moves[..., :first, :])
    for i in range(first, loads.shape[-2]):
        own_g, own_v = loads[..., i : i + 1, :], moves[..., i : i + 1, :]
        for _ in range(2):
            share = own_g @ np.swapaxes(v, -1, -2)
            own_g, own_v = own_g - share @ g, own_v - share @ v
            left = (own_g * own_v).sum(axis=-1, keepdims=True)
            scale = np.where(left > LEFT, 1.0 / np.sqrt(np.maximum(left, LEFT)), 0.0)
            own_g, own_v = own_g * scale, own_v * scale
        g, v = np.concatenate([g, own_g], axis=-2), np.concatenate([v, own_v], axis=-2)
    return v


def _apart(loads: Array, moves: Array) -> tuple[Array, Array]:
    """Independent ones as `orthonormal_moves` wants them."""
    for shift in (0.0, SHIFT):
        try:
            g, v = loads, moves
            for step in range(3 if shift else 2):
                products = g @ np.swapaxes(v, -1, -2)
                products = 0.5 * (products + np.swapaxes(products, -1, -2))
                if shift and step == 0:
                    products[..., range(products.shape[-1]), range(products.shape[-1])] += shift
                lower = np.linalg.cholesky(products)
                least = np.diagonal(lower, axis1=-2, axis2=-1).min()
                if least < DEPENDENT and not (shift and step == 0):
                    raise np.linalg.LinAlgError
                inverse = np.linalg.inv(lower)
                g, v = inverse @ g, inverse @ v
                if least > NEARLY:
                    break
            return g, v
        except np.linalg.LinAlgError:
            continue
    # All but dependent: by the eigenvectors of their products, which leave nothing where nothing is.
    products = loads @ np.swapaxes(moves, -1, -2)
    values, vectors = np.linalg.eigh(0.5 * (products + np.swapaxes(products, -1, -2)))
    scale = np.where(values > LEFT, 1.0 / np.sqrt(np.maximum(values, LEFT)), 0.0)
    combined = np.swapaxes(vectors, -1, -2) * scale[..., None]
    return combined @ loads, combined @ moves
