"""report.html: one file that holds a study's results, opens from disk and asks nothing of any other place."""
