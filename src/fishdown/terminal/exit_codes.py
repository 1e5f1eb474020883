"""With which code a command ends; `fishdown --help` tells people the same."""

from __future__ import annotations

import signal

DONE, PROBLEMS, USAGE, GATE_FAILED, UNPRINTED = 0, 1, 2, 3, 4
# As shells number what a signal ended: here the one that says that nobody reads the output.
NOBODY_READS = 141
STOPPED = (128 + signal.SIGINT, 128 + signal.SIGTERM)
