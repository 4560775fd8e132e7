"""What a little more of each wish would buy: one solved and proven step of every wish but the last.

A step is the answer to the study with `wishes.give` of one piece, or one percent, more of one wish. It is
solved from what the search of the study knows already, composed and judged as every answer is.
"""
