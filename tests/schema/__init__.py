"""Tests of `schema`."""
