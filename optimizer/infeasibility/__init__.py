"""Why there is no answer: smallest sets of limits that cannot hold together.

May use all stages but verification.
"""
