# Says what it has done where records belong.
{ print; fflush() }
END { if (NR > 0) print NR " lines done" }
