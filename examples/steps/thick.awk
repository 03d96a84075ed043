#!/usr/bin/awk -f
# A step of your own, as a template: counts readings above a diameter, lot by lot.
#
#     awk -v above_mm=1.80 -f thick.awk < stream > stream
#
# Where awk is mawk, `mawk -W interactive`: without it mawk reads ahead, and lines wait.
#
# awk reads text, not JSON. That is enough for flat records that are written as
# secondmelt writes them: {"kind":"diameter","lot":"...", ... }. Names with a \ in
# them are passed on and not counted.

BEGIN { if (above_mm == "") above_mm = 1.80 }

# Every line goes on as it came. The next read may wait, so nothing is held back.
{ print; fflush() }

/^{"kind":"diameter",/ && match($0, /"lot":"[^"\\]+"/) {
    lot = substr($0, RSTART + 7, RLENGTH - 8)
    if (match($0, /"dx_mm":[0-9.]+/)) {
        readings[lot]++
        if (substr($0, RSTART + 8, RLENGTH - 8) + 0 > above_mm) thick[lot]++
    }
}

# At the end, a record of its own for each lot; the dot in its kind says whose it is.
END {
    for (lot in readings)
        printf "{\"kind\":\"example.thick\",\"lot\":\"%s\",\"above_mm\":%s,\"readings\":%d,\"thick\":%d}\n", \
            lot, above_mm, readings[lot], thick[lot]
}
