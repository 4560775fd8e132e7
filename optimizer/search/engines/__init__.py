"""The two engines, CP-SAT and HiGHS, and how one checks the other.

Solvers are imported here and in `bounds/linear_program` only.
"""
