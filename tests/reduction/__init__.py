"""Tests of `reduction`."""
