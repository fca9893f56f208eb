"""The command line: a thin face over the core. Importing it must stay cheap, for `--help` and completion."""
