"""Constants of nature that more than one formula needs."""

VACUUM_PERMITTIVITY_F_M = 8.8541878128e-12
"""CODATA 2018."""
STANDARD_GRAVITY_M_S2 = 9.80665
"""Exact (3rd CGPM, 1901)."""
