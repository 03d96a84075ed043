# What failed or is undecided in a report folder, one line each:
#   jq -r -f failed.jq STORE/latest/findings.jsonl
select(.kind == "verdict" and .result != "conforms")
| [.result, .check, (.lot // .step // .machine // "-"), .why] | @tsv
