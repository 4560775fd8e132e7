"""Tests of `infeasibility`."""
