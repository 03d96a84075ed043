-- Readings straight from the store: DuckDB reads the compressed records as they are.
--   duckdb -c ".read readings.sql"     run in STORE
select lot, count(*) as readings, round(avg(dx_mm), 4) as mean_mm, min(dx_mm) as min_mm, max(dx_mm) as max_mm
from read_json('records/diameter-*.jsonl.gz', format = 'newline_delimited', union_by_name = true,
               columns = {kind: 'VARCHAR', lot: 'VARCHAR', dx_mm: 'DOUBLE'})
where kind = 'diameter'
group by lot
order by lot;
