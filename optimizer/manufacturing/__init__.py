"""Shop data of each ring part: blank, jaws, seat, screws, what to inspect.

Pure numbers from study and answer, for sheets and files; nothing here steers the search, and it must import
no drawing or file.
"""
