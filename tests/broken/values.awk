# Writes null for what it does not know.
{ print; fflush() }
/"kind":"lot"/ { print "{\"kind\":\"example.shelf\",\"shelf\":null}"; fflush() }
