# Writes null in a record of a kind that it has not made up itself.
{ print; fflush() }
/"kind":"lot"/ { print "{\"kind\":\"marking\",\"lot\":\"spool-7\",\"mark\":\"PETG\",\"shelf\":null}"; fflush() }
