"""Tests of `analysis/alternatives`."""
