"""One ring beside others: rated alone, with one thing changed (advice), and among its neighbours.

Rings are rated and added up like any others; nothing here searches. New moves go into `moves`, new changes
into `advice`; `models` is what callers see, and its field names are part of the service's contract.
"""
