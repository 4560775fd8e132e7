"""The judge: every limit and total of an answer again, from study and answer alone.

Shares with the rest only schema, physics and standards, so that no fault of the search can hide here.
"""
