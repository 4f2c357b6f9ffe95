"""Where the board is in a frame."""
