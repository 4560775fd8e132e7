"""Tests of `solving`."""
