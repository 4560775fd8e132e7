"""The pipeline through the five stages, the answer composed from the chosen rows, and its certificate.

May use every stage and `infeasibility`; knows no analysis, report or file. The judge passes every answer
before it leaves.
"""
