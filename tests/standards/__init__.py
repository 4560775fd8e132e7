"""Behaviour of ringset.standards: errors, limits, numbers and arrays."""
