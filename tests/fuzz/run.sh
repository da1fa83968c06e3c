#!/bin/bash
# Fuzzes for longer, one target after the other, when nothing else wants the processor.
#
#   tests/fuzz/run.sh BUILD-FOLDER SECONDS [TARGET...]     targets: label, station, settings,
#                                                        csv, mllp, hl7, fhir
#
# The programs must be built (cmake --build --preset checked --target fuzz_tests). New inputs stay in BUILD-FOLDER/tests/fuzz/found/TARGET; one that fails is named at
# the end, and the exit code is 1.
set -euo pipefail
build=$(cd "$1" && pwd)
seconds=$2
shift 2
cd "$(dirname "${BASH_SOURCE[0]}")"
if [ $# -eq 0 ]; then set -- label station settings csv mllp hl7 fhir; fi
failed=0
for target in "$@"; do
  found=$build/tests/fuzz/found/$target
  mkdir -p "$found"
  chrt -i 0 nice -n 19 "$build/tests/fuzz/fuzz_$target" "$found" "corpus/$target" \
    -max_total_time="$seconds" -max_len=2048 -timeout=10 -print_final_stats=1 \
    -artifact_prefix="$found/" >"$found.log" 2>&1 || failed=1
  echo "$target: $(grep -E 'Done|ERROR|SUMMARY|number_of_executed_units' "$found.log" | tr '\n' ' ')"
done
exit $failed
