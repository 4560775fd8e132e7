"""The processes that work on studies, and the supervisor that hands them out."""
