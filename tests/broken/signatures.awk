# Leaves out the signatures of earlier filters.
/"kind":"(begin|end)"/ { next }
{ print; fflush() }
