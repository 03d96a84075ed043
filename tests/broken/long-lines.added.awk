# Adds a line that is too long.
{ print; fflush() }
/"kind":"limit"/ {
    text = "long "
    while (length(text) <= 1048576) text = text text
    print "{\"kind\":\"example.text\",\"text\":\"" text "\"}"
    fflush()
}
