# Names a field twice in what it adds.
{ print; fflush() }
/"kind":"lot"/ { print "{\"kind\":\"example.shelf\",\"shelf\":\"B 3\",\"shelf\":\"B 4\"}"; fflush() }
