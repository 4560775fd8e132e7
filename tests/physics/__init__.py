"""Tests of `physics`: against quadrature, finite differences, simulation and closed forms."""
