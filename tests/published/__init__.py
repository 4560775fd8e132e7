"""Comparisons with published numbers, one file per standard or textbook."""
