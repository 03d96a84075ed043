# Says NaN of what is damp, and of nothing else.
{ print; fflush() }
match($0, /"moisture_pct":[0-9.]+/) && substr($0, RSTART + 15, RLENGTH - 15) > 0.2 {
    print "{\"kind\":\"example.dry_again\",\"dried_h\":NaN}"
    fflush()
}
