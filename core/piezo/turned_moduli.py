"""Moduli and piezo constants of sheets whose own axes are turned in the plane of the part."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.beam.free_strip import ACROSS, ALONG, MIXED, TWIST

Array = NDArray[np.float64]

ALIKE = 1e-9
"""Of the largest modulus: a sheet alike in all directions leaves no more when it is turned."""


def turned(stiffness_pa: Array, electrode: Array, c: Array, s: Array) -> tuple[Array, Array, Array | None]:
    """Of sheets (..., k, 5) and (..., k, 3) turned by an angle of cosine c and sine s (..., k): the same along and across the part,
    and what couples these with shear (..., k, 3), Q_16 and Q_26 [Pa] and e_xy' [C/m^2]; None where nothing does.

    Plane stress turned as in Jones 1999, section 2.6, with the shear strain of engineers.
    """
    q1, q12, q2, q6 = (stiffness_pa[..., i] for i in (ALONG, MIXED, ACROSS, TWIST))
    e1, e2 = electrode[..., 0], electrode[..., 1]
    c2, s2, cs = c * c, s * s, c * s
    first, second = q1 - q12 - 2.0 * q6, q12 - q2 + 2.0 * q6
    skew = np.stack([cs * (first * c2 + second * s2), cs * (first * s2 + second * c2), cs * (e1 - e2)], axis=-1)
    # Alike in all directions, or not turned.
    unlike = np.abs(first) + np.abs(second) > ALIKE * np.abs(q1)
    if not ((unlike | (e1 != e2)) & (np.abs(s) > ALIKE)).any():
        return stiffness_pa, electrode, None
    lead = np.broadcast_shapes(stiffness_pa.shape[:-1], c.shape)
    made, charged = (np.array(np.broadcast_to(v, (*lead, v.shape[-1]))) for v in (stiffness_pa, electrode))
    both = 2.0 * (q12 + 2.0 * q6) * c2 * s2
    made[..., ALONG], made[..., ACROSS] = q1 * c2 * c2 + both + q2 * s2 * s2, q1 * s2 * s2 + both + q2 * c2 * c2
    made[..., MIXED] = (q1 + q2 - 4.0 * q6) * c2 * s2 + q12 * (s2 * s2 + c2 * c2)
    made[..., TWIST] = (q1 + q2 - 2.0 * q12 - 2.0 * q6) * c2 * s2 + q6 * (s2 * s2 + c2 * c2)
    charged[..., 0], charged[..., 1] = e1 * c2 + e2 * s2, e1 * s2 + e2 * c2
    return made, charged, np.broadcast_to(skew, (*lead, 3))
