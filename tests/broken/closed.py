# Dies noisily when its reader closes.
import sys

for line in iter(sys.stdin.buffer.readline, b""):
    sys.stdout.buffer.write(line.rstrip(b"\n") + b"\n")
    sys.stdout.buffer.flush()
