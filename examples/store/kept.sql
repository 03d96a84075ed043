-- How much of each spool can be kept for each printer, and the flow factor that goes with it.
--   duckdb -c ".read kept.sql"     run in STORE/latest, or set the path
select s.lot, s.machine, s.kept_m, s.out_pct, f.factor
from read_csv('csv/out_share.csv') s
left join read_csv('csv/flow_fit.csv') f using (lot, machine)
order by s.lot, s.machine;
