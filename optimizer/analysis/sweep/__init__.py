"""Many changed studies into one table, kept line by line as they are solved.

`sweep` plans and tabulates, `worker` solves one study, `processes` and `cluster` are the engines, `journal`
keeps the lines on disk. Planning must load no solver.
"""
