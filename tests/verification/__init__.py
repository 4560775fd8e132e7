"""Tests of `verification`."""
