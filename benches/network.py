"""A line of 20,000 steps with 100,000 weighings: mass-balance, and scipy's sparse solver on the
same network in the same run. Usage: python benches/network.py
target/release/mass-balance target/release/examples/network_speed (needs numpy and scipy, e.g. in
a venv under target/; `cargo build --release -p secondmelt-quality --examples` makes the second)."""

import json
import random
import resource
import subprocess
import sys
import tempfile
import time

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import splu


def records(steps, rng):
    """Lines of ten steps: five weighings a step, in and out, two losses, and stock."""
    flows, lines = [], []

    def weigh(step, lot, role, mass, tail, head, u=0.1):
        value = max(0.0, round(mass + rng.gauss(0, u), 2))
        lines.append(json.dumps({"kind": "weighing", "step": step, "lot": lot, "role": role,
                                 "mass_g": value, "u_g": u}))
        flows.append((tail, head, value, u))

    mass = 1000.0
    for n in range(steps):
        if n % 10 == 0:
            mass = 1000.0
        step, lot, out = f"s{n}", f"l{n}", f"l{n + 1}" if n % 10 < 9 else f"end{n}"
        here = ("lot", lot) if n % 10 else None
        weigh(step, lot, "in", mass, here, ("step", step))
        weigh(step, lot, "fines", 0.02 * mass, ("step", step), None)
        weigh(step, lot, "dust", 0.01 * mass, ("step", step), None)
        mass *= 0.97
        last = n % 10 == 9
        weigh(step, out, "out", mass, ("step", step), None if last else ("lot", out))
        weigh("count", out, "stock", 0.0 if not last else mass, None if last else ("lot", out), None)
    return lines, flows


def scipy_reconciles(flows):
    nodes = {}
    rows, cols, signs = [], [], []
    for n, (tail, head, _, _) in enumerate(flows):
        for node, sign in ((tail, -1.0), (head, 1.0)):
            if node is not None:
                rows.append(nodes.setdefault(node, len(nodes)))
                cols.append(n)
                signs.append(sign)
    begin = time.process_time()
    a = sp.csr_matrix((signs, (rows, cols)), shape=(len(nodes), len(flows)))
    y = np.array([flow[2] for flow in flows])
    v = sp.diags([flow[3] ** 2 for flow in flows])
    x = y - v @ a.T @ splu((a @ v @ a.T).tocsc()).solve(a @ y)
    took = time.process_time() - begin
    objective = float(np.sum(((y - x) / np.array([flow[3] for flow in flows])) ** 2))
    return took, objective


def library_reconciles(program, flows):
    nodes = {None: 0}
    number = lambda node: nodes.setdefault(node, len(nodes))
    text = [f"{number(tail)} {number(head)} {value!r} {u!r}" for tail, head, value, u in flows]
    stream = "\n".join([str(len(nodes)), *text])
    took = subprocess.run([program], input=stream, capture_output=True, text=True, check=True).stdout.split()
    return float(took[0]) / 1000, float(took[1])


def main():
    program = sys.argv[1]
    for steps in (5_000, 10_000, 20_000):
        lines, flows = records(steps, random.Random(steps))
        with tempfile.NamedTemporaryFile("w", suffix=".jsonl") as file:
            file.write("\n".join(lines) + "\n")
            file.flush()
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            with tempfile.TemporaryFile() as out:
                subprocess.run([program, file.name], stdout=out, check=True)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
        cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        peer, objective = min(scipy_reconciles(flows) for _ in range(5))
        own, same = min(library_reconciles(sys.argv[2], flows) for _ in range(5))
        assert abs(same - objective) < 1e-6 * objective, (same, objective)
        print(f"{len(lines)} weighings, {steps} steps: mass-balance, everything, {cpu:.2f} s CPU, "
              f"{after.ru_maxrss / 1024:.0f} MiB; reconciliation alone with standard deviations and tests "
              f"{1000 * own:.0f} ms; scipy, masses only, {1000 * peer:.0f} ms (least of five each)")


main()
