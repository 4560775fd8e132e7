"""Text and curves for people. Only here are numbers rounded."""
