"""The command line: one file a command; parse, call one function, print."""
