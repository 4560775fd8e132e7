"""Tests of what is built on `solve`."""
