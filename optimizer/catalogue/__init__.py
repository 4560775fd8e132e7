"""Stage 1: every ring (module, teeth, bore, heads) that fits a joint by size.

Knows schema, physics and standards; never a rating, a search or an answer.
"""
