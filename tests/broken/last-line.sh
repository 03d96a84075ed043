# `read` fails on a last line that has no line end, and the loop ends without it.
while IFS= read -r line; do
    printf '%s\n' "$line"
done
