"""Tests of `rating`."""
