"""Tests of `reporting`."""
