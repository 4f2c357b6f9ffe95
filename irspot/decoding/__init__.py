"""Colour-mapped pictures in: the colour bar found and read, and temperatures taken back out of the colours."""
