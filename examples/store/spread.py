"""Spread of each lot's diameter, from the records of a store, with polars.

    python3 spread.py STORE
"""

import glob
import gzip
import io
import sys

import polars as pl

tables = []
for name in sorted(glob.glob(f"{sys.argv[1]}/records/diameter-*.jsonl.gz")):
    lines = [line for line in gzip.open(name, "rb") if line.startswith(b'{"kind":"diameter"')]
    table = pl.read_ndjson(io.BytesIO(b"".join(lines)), schema={"lot": pl.String, "dx_mm": pl.Float64})
    tables.append(table)
spread = pl.concat(tables).group_by("lot").agg(
    pl.len().alias("readings"), pl.col("dx_mm").mean().alias("mean_mm"), pl.col("dx_mm").std().alias("sd_mm")
)
print(spread.sort("lot").write_csv(), end="")
