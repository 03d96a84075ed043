# Gives its own kind no dot.
{ print; fflush() }
/"kind":"lot"/ { print "{\"kind\":\"shelf\",\"shelf\":\"B 3\"}"; fflush() }
