"""Signals of thousands of drawn rings: the yield of an answer, and each budget line beside its simulation.

Rings are sized as the rating sizes them; their signals are drawn and read, not computed by the budget's
formulas, so that one can check the other.
"""
