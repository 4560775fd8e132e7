"""Tests of `search`."""
