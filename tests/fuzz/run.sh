#!/bin/bash
# Fuzzes for longer, one target after the other, when nothing else wants the processor.
#
#   tests/fuzz/run.sh BUILD-FOLDER SECONDS [TARGET...]     targets: label, station, settings,
#                                                        csv, mllp, hl7, fhir
#
# The programs must be built: cmake --build --preset checked --target fuzz_programs. New inputs stay
# in BUILD-FOLDER/tests/fuzz/found/TARGET; the exit code is 1 when one failed, and
# BUILD-FOLDER/tests/fuzz/found/TARGET.log names it. To keep what reaches new code:
#
#   BUILD-FOLDER/tests/fuzz/fuzz_TARGET -merge=1 tests/fuzz/corpus/TARGET \
#     BUILD-FOLDER/tests/fuzz/found/TARGET
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
