"""The command line: parse, call one study, print."""
