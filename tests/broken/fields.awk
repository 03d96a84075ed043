# Leaves out a field that it does not know.
{ sub(/"example_shelf":"[^"]*",/, ""); print; fflush() }
