"""Accepting, waiting and waking: what routes share."""
