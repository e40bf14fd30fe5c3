"""The command line: a file a verb."""
