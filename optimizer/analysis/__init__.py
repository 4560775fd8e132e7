"""What is built on `solve`: six folders, each a question of its own about a study or its answers.

They use all stages and `solving`, and do not know each other; only `front` borrows the words of a
`comparison`. None of them knows reporting, drawings or files.
"""
