#!/usr/bin/env python3
"""A step of your own, as a template: notes the colour of each lot.

    colour.py < stream > stream

Passes every line on as it came. For each `lot` whose note names a colour it adds
a record of its own kind, `example.colour`. Needs the standard library only.
"""
import json
import os
import sys

COLOURS = ("white", "grey", "black", "green", "blue", "red", "clear")


def colour(record):
    """The first colour that the note of a lot names; None where there is none."""
    words = record.get("note", "").lower().replace(",", " ").split()
    return next((word for word in words if word in COLOURS), None)


def added(line):
    """The record to add after a line; None where there is nothing to say."""
    if b'"lot"' not in line:  # most lines need not be parsed
        return None
    try:
        record = json.loads(line)
    except ValueError:  # not JSON, or not UTF-8: not ours to judge
        return None
    if not isinstance(record, dict) or record.get("kind") != "lot":
        return None
    found = colour(record)
    return found and {"kind": "example.colour", "lot": record["lot"], "colour": found}


def main():
    # Bytes in, the same bytes out: text would change line ends and encoding.
    source, out = sys.stdin.buffer, sys.stdout.buffer
    for line in iter(source.readline, b""):
        out.write(line if line.endswith(b"\n") else line + b"\n")
        record = added(line)
        if record:
            out.write(json.dumps(record, ensure_ascii=False).encode() + b"\n")
        out.flush()  # before the next read, which may wait


try:
    main()
except BrokenPipeError:  # the reader has closed: end quietly
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
