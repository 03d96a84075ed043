# Writes texts without escapes that they do not need.
{ gsub(/\\\//, "/"); print; fflush() }
