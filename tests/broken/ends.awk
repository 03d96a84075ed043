# Goes on waiting after its input has ended.
{ print; fflush() }
/"kind":"begin"/ { wait = 1 }
END { while (wait) system("sleep 1") }
