# Writes a verdict that has no reason and a result of its own.
{ print; fflush() }
/"kind":"lot"/ { print "{\"kind\":\"verdict\",\"check\":\"shelf\",\"result\":\"fine\"}"; fflush() }
