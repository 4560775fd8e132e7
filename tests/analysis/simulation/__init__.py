"""Tests of `analysis/simulation`."""
