"""Tests of `analysis/sweep`."""
