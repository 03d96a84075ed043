# Writes limits twice.
/"kind":"limit"/ { print }
{ print; fflush() }
