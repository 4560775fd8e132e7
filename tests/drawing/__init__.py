"""Tests of the sheets."""
