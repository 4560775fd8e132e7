"""Answers side by side: what differs in inputs, totals and rings, and in one sentence why.

Reads answers as they are: it must import no stage, for nothing is rated, judged or solved here.
"""
