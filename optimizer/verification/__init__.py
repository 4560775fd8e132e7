"""Stage 5: answers and proofs checked without a solver."""
