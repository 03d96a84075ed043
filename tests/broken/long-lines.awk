# Cuts long lines.
{ print substr($0, 1, 65536); fflush() }
