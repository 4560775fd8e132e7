"""Behaviour of optimizer.standards: errors, limits, numbers and arrays."""
