# Holds a line back and writes it after the next one.
/"kind":"scale"/ { held = $0; next }
{ print; if (held != "") print held; held = ""; fflush() }
