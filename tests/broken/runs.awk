# Signs its verdict with a run that never began.
{ print; fflush() }
/"kind":"lot"/ {
    print "{\"kind\":\"verdict\",\"by\":\"0123456789abcdef\",\"check\":\"shelf\",\"result\":\"conforms\",\"rule\":\"shelves are known\",\"why\":\"it has a shelf\"}"
    fflush()
}
