"""Why a study is impossible and what would free it; what limits cost and how far inputs may drift if not.

`widened` rates rows beyond the limits once; blockers, reliefs and prices are read from those rows or asked of
the search. Every relief is verified by solving before it is told.
"""
