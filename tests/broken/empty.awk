# Divides by the number of lines, whatever it is.
{ print; fflush() }
/"kind":"lot"/ { lots++ }
END { printf "{\"kind\":\"example.share\",\"lots_pct\":%s}\n", 100 * lots / NR }
