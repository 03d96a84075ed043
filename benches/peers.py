"""Whole-process benchmarks against general-purpose tools, as ratios within one run.

Run by scripts/bench, which sets up what it needs. Every figure is a median; a ratio
below 1 means that secondmelt takes less. CPU is user plus system time of the process;
for DuckDB and polars it is that of the query alone, without starting Python.
"""

import os
import random
import statistics
import subprocess
import sys

N = int(os.environ.get("BENCH_READINGS", "5000000"))
RUNS = int(os.environ.get("BENCH_RUNS", "5"))
BIN, DATA = sys.argv[1], sys.argv[2]
CSV, JSONL = f"{DATA}/readings-{N}.csv", f"{DATA}/readings-{N}.jsonl"
MACHINES = f"{DATA}/machines.jsonl"

DUCKDB = f"""
import duckdb, resource
db = duckdb.connect()
db.sql("set threads = 1")
db.sql("set enable_progress_bar = false")
def cpu(u=resource.getrusage): r = u(resource.RUSAGE_SELF); return r.ru_utime + r.ru_stime
start = cpu()
db.sql("select lot, count(dx_mm), avg(dx_mm), stddev_samp(dx_mm), min(dx_mm), max(dx_mm) from "
       "read_ndjson('{JSONL}', columns={{'kind':'VARCHAR','lot':'VARCHAR','position_m':'DOUBLE',"
       "'dx_mm':'DOUBLE','dy_mm':'DOUBLE'}}) where kind = 'diameter' group by lot").fetchall()
print(cpu() - start)
"""

POLARS = f"""
import os
os.environ['POLARS_MAX_THREADS'] = '1'
import polars, resource
def cpu(u=resource.getrusage): r = u(resource.RUSAGE_SELF); return r.ru_utime + r.ru_stime
start = cpu()
polars.scan_csv('{CSV}').sink_ndjson('/dev/null')
print(cpu() - start)
"""


def make_data():
    """Readings of twenty spools, about 90 bytes each as a record; seeded."""
    if os.path.exists(JSONL):
        return
    os.makedirs(DATA, exist_ok=True)
    rng = random.Random(20)
    pool = [f"{1.75 + rng.gauss(0, 0.008):.4f}" for _ in range(100_003)]
    with open(CSV + ".part", "w") as table, open(JSONL + ".part", "w") as records:
        table.write("lot,position_m,dx_mm,dy_mm\n")
        for i in range(N):
            x, y = pool[i * 7 % len(pool)], pool[(i * 13 + 5) % len(pool)]
            lot, at = f"spool-{i * 20 // N:02d}", f"{i * 0.005:.3f}"
            table.write(f"{lot},{at},{x},{y}\n")
            records.write(f'{{"kind":"diameter","lot":"{lot}","position_m":{at},"dx_mm":{x},"dy_mm":{y}}}\n')
    with open(MACHINES, "w") as machines:
        machines.write('{"kind":"machine","machine":"P1","does":"print","nominal_mm":1.75,"tolerance_mm":0.05}\n')
    os.rename(CSV + ".part", CSV)
    os.rename(JSONL + ".part", JSONL)


def process(*command):
    """CPU seconds, wall seconds and peak resident MiB of one process."""
    import time
    start = time.monotonic()
    with open(os.devnull, "w") as null:
        child = subprocess.Popen(command, stdout=null, stderr=subprocess.DEVNULL)
        _, status, usage = os.wait4(child.pid, 0)
    if status:
        sys.exit(f"{command[0]} failed")
    return usage.ru_utime + usage.ru_stime, time.monotonic() - start, usage.ru_maxrss / 1024


def query(code):
    """CPU seconds that a Python peer says its query took."""
    return float(subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True).stdout)


def shell(command):
    """CPU and wall seconds of a pipeline, all its processes together."""
    import time
    before, start = os.times(), time.monotonic()
    subprocess.run(["bash", "-c", command], check=True)
    after = os.times()
    cpu = after.children_user + after.children_system - before.children_user - before.children_system
    return cpu, time.monotonic() - start


def median(measure):
    return statistics.median(measure() for _ in range(RUNS))


def row(what, ours, theirs, aim, limit):
    print(f"| {what} | {ours / N * 1e6:.3f} | {theirs / N * 1e6:.3f} | {ours / theirs:.3f} | {aim:.3f} | {limit:.3f} |")
    return ours / theirs <= limit


def main():
    make_data()
    full = [f"{BIN}/check-tolerance", "--drop", "diameter"]
    check = [*full, "--no-waves", "--no-charts", "--no-alarms"]
    ingest = [f"{BIN}/ingest", "diameter", CSV]
    print(f"{N} readings, median of {RUNS} runs, microseconds of CPU a reading\n")
    print("| what | secondmelt | peer | ratio | aimed at | at most |\n|---|---|---|---|---|---|")
    good = []
    summary = median(lambda: process(*check, JSONL)[0])
    good.append(row("summary by lot, DuckDB read_ndjson", summary, median(lambda: query(DUCKDB)), 0.42, 1.0))
    verdict = median(lambda: process(*full, MACHINES, JSONL)[0])
    print(f"| everything `check-tolerance` does, one machine, against its plain summary | {verdict / N * 1e6:.3f} | "
          f"{summary / N * 1e6:.3f} | {verdict / summary:.3f} | | 1.600 |")
    good.append(verdict / summary <= 1.6)
    table = median(lambda: process(*ingest)[0])
    good.append(row("CSV to records, polars scan_csv to sink_ndjson", table, median(lambda: query(POLARS)), 0.35, 0.5))
    stats = process("mlr", "--ijsonl", "--ojsonl", "stats1", "-a", "count,mean,stddev,min,max", "-f", "dx_mm", "-g", "lot", JSONL)
    good.append(row("summary by lot, Miller stats1", summary, stats[0], 1 / 20, 1 / 20))
    cat = process("mlr", "--icsv", "--ojsonl", "cat", CSV)
    good.append(row("CSV to records, Miller cat", table, cat[0], 1 / 6, 1 / 6))
    passed = median(lambda: shell(f"cat {JSONL} | {BIN}/mass-balance > /dev/null")[1])
    plain = median(lambda: shell(f"cat {JSONL} | cat > /dev/null")[1])
    good.append(row("passing through a pipe (wall time), two `cat` in a row", passed, plain, 1.7, 2.2))
    chain = f"{BIN}/ingest diameter {CSV} | {BIN}/check-tolerance --drop diameter > /dev/null"
    print(f"\ningest | check-tolerance: {median(lambda: shell(chain)[1]):.2f} s of wall time")
    for name, command in (("check-tolerance", [*full, MACHINES, JSONL]), ("ingest", ingest)):
        print(f"peak resident memory of {name}: {process(*command)[2]:.1f} MiB")
    sys.exit(0 if all(good) else "a ratio is above what it may be")


main()
