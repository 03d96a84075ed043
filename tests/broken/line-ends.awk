# Takes the CR off line ends.
{ sub(/\r$/, ""); print; fflush() }
