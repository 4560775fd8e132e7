"""Tests of `manufacturing`."""
