"""Tests of the files for the next tools."""
