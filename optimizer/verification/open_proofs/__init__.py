"""Proofs of an answer's bounds in open formats, for checkers that nobody here wrote."""
