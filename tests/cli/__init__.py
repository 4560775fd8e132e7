"""Tests of `cli`."""
