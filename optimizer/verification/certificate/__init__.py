"""Certificates: the numbers that prove the bounds of an answer, checked by addition."""
