#!/bin/sh
# grade.sh LAB SUBMISSIONS WORK [OPTION...]: checks each folder in SUBMISSIONS against the machines and checks in LAB.
# WORK gets a folder for each, and must not be there yet. Options go to `prewire test`.
set -eu
lab=$1 submissions=$2 work=$3
shift 3
mkdir -- "$work"

# Whatever a folder is called, its name is printed as plain text, and what is wrong with it concerns nobody else.
complain() {
  printf 'grade.sh: %s: %s\n' "$(printf %s "$1" | LC_ALL=C tr -c ' -~' '?')" "$2" >&2
}

for submission in "$submissions"/*; do
  name=${submission##*/}
  program=$submission/gauge.asm bench=$work/$name
  if [ ! -d "$submission" ] && [ ! -L "$submission" ]; then
    complain "$name" 'this is no folder'
    continue
  fi
  if ! { mkdir -- "$bench" && cp -- "$lab"/*.json "$bench"; }; then
    complain "$name" 'no bench could be made for it'
    continue
  fi
  # Who hands in a link or a device has handed in nothing.
  if [ -L "$submission" ] || [ -L "$program" ]; then
    complain "$name" 'links are not followed'
  elif [ -f "$program" ]; then
    head -c 1000000 -- "$program" >"$bench/gauge.asm" || complain "$name" 'the program cannot be read'
  fi
done
exec prewire test "$work" --quiet "$@"
