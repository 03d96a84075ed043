# Leaves out a kind that it does not know.
/"kind":"(example\.)?colour"/ { next }
{ print; fflush() }
