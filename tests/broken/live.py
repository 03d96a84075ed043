# Leaves its output in a buffer.
import signal
import sys

signal.signal(signal.SIGPIPE, signal.SIG_DFL)
out = open(sys.stdout.fileno(), "wb", buffering=8192, closefd=False)
for line in iter(sys.stdin.buffer.readline, b""):
    out.write(line.rstrip(b"\n") + b"\n")
out.flush()
