"""What an answer rests on: which assumed inputs decide it, and what comes of them all at their ends.

`effects` ranks the inputs: `screen` estimates all by rating alone, `ends` solves the strongest. `band` solves
all of them together at their hopeful and at their careful end.
"""
