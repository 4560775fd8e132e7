"""Tests of `analysis/front`."""
