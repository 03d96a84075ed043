# Leaves out every line that has been there before.
!seen[$0]++ { print; fflush() }
