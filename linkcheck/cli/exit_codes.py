"""What the program says when it leaves, besides words."""

OK = 0  # done; for `replay`: analysed
FAULT_FOUND = 1  # done, and something is wrong with the bus (with --strict)
UNUSABLE = 2  # could not be done: one sentence on standard error says why
INTERRUPTED = 130  # ctrl+c before there was anything to show (128 + SIGINT)
PIPE_CLOSED = 141  # whoever read our output stopped reading (128 + SIGPIPE)
