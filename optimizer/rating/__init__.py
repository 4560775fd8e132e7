"""Stage 2: physics on whole columns: error, mass, checks, and which limits each row keeps.

Knows the catalogue; never the search.
"""
