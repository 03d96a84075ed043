# Dies of a line that is not UTF-8.
import signal
import sys

signal.signal(signal.SIGPIPE, signal.SIG_DFL)
for line in iter(sys.stdin.buffer.readline, b""):
    text = line.decode("utf-8").rstrip("\n") + "\n"
    sys.stdout.buffer.write(text.encode())
    sys.stdout.buffer.flush()
