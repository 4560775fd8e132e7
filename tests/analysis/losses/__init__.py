"""What is lost with a thing of an answer: against the list of all combinations without it."""
