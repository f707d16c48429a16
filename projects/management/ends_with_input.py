"""A command that ends with whoever started it, from its first moment on: `python -m … COMMAND`, with a pipe as input.

Nothing is ever sent. A read returns when the other end of the pipe is closed, by an end or by a kill.
"""

import os
import signal
import sys
import threading
import time

PATIENCE = 5  # seconds for what is being done


def end_with_input() -> None:
    while os.read(sys.stdin.fileno(), 1):  # not through a buffer, whose lock a thread may hold when we end
        pass
    signal.raise_signal(signal.SIGTERM)  # ends us at once, unless the command has begun and takes its time
    time.sleep(PATIENCE)
    os._exit(1)  # a plan in the making would hold it up; the best so far is kept


if __name__ == "__main__":
    threading.Thread(target=end_with_input, daemon=True).start()

    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)
