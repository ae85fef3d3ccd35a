#!/bin/sh
# grade.sh LAB SUBMISSIONS WORK [OPTION...]: checks each folder in SUBMISSIONS against the machines and checks in LAB.
# WORK gets a folder for each, and must not be there yet. Options go to `prewire test`.
set -eu
lab=$1 submissions=$2 work=$3
shift 3
mkdir "$work"
for submission in "$submissions"/*/; do
  bench=$work/$(basename "$submission")
  mkdir "$bench"
  cp "$lab"/*.json "$bench"
  # A link or a device in place of the program is not followed.
  if [ -f "$submission/gauge.asm" ] && [ ! -L "$submission/gauge.asm" ]; then
    head -c 1000000 "$submission/gauge.asm" >"$bench/gauge.asm"
  fi
done
exec prewire test "$work" --quiet "$@"
