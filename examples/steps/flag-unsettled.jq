# A step of your own, as a template: points at each verdict that is not settled.
#
#     jq -Rr --unbuffered -f flag-unsettled.jq < stream > stream
#
# -R reads each line as a text and -r writes it back as it was. Read as JSON it would
# come out changed: jq writes 1.7500 as 1.75, and a number of twenty digits as another.
# --unbuffered lets each line go at once.

# The line itself.
.,
# What is added. `fromjson?` says nothing of lines that are not JSON; the kind of the
# record that is added has a dot.
(fromjson?
 | select(type == "object" and .kind == "verdict" and .result == "undecided")
 | {kind: "example.unsettled", check}
   + (if has("lot") then {lot} else {} end)
   + {todo: "measure again"}
 | tojson)
