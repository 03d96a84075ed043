# Leaves out a line that equals the one before it, as uniq does.
NR > 1 && $0 == before { next }
{ before = $0; print; fflush() }
