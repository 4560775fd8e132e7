"""What goes in and what comes out: studies and answers as pydantic models, read strictly.

Nothing here rates, searches or draws; it may import errors, physics and standards only.
"""
