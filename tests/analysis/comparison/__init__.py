"""Tests of `analysis/comparison`."""
