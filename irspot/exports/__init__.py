"""Tables and JSON out, whole or not at all."""
