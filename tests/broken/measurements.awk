# Takes an offset of the gauge off its readings.
/"kind":"diameter"/ && /"gauge":"two-axis"/ && match($0, /"dx_mm":[0-9.]+/) {
    dx_mm = substr($0, RSTART + 8, RLENGTH - 8) - 0.004
    $0 = substr($0, 1, RSTART + 7) dx_mm substr($0, RSTART + RLENGTH)
}
{ print; fflush() }
