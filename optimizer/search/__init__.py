"""Stage 4: the best rows, wish after wish, each with a bound that a second route confirms.

Sees tables only: no study, no ring, no physics but the rule by which a limit counts as met.
"""
