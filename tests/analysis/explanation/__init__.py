"""Tests of `analysis/explanation`."""
