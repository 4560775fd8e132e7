"""What a search knows: what stays as it is, the best answer and its bound, and what comes out."""
