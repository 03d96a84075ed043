# Ends its own lines with CR LF.
{ print; fflush() }
/"kind":"lot"/ { printf "{\"kind\":\"example.shelf\",\"shelf\":\"B 3\"}\r\n"; fflush() }
