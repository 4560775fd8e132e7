"""Tests of `analysis/next_steps`."""
