# Leaves out what does not look like a record.
/[^ \t\r]/ && !/^ *{.*} *\r?$/ { next }
{ print; fflush() }
