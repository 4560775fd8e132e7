"""What is lost with a cutter, a head, a ring part or a stock size of an answer: the best answer without it.

Every loss is the study solved once more on the rings that are left, composed and judged as every answer is.
"""
