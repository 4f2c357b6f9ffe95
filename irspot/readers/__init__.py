"""Frame files in: one format a file, chosen by content first and ending second."""
