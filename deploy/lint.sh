#!/usr/bin/env bash
# Runs clang-tidy with the checks of .clang-tidy over the sources, all of them or those named, from
# the compile commands of the dev preset. Exits with 1 if there is a finding.
set -euo pipefail
cd "$(dirname "$0")/.."

tidy=
for name in clang-tidy-16 clang-tidy-14 clang-tidy; do
  command -v "$name" >/dev/null && { tidy=$name; break; }
done
[ -n "$tidy" ] || { echo "lint: no clang-tidy here; install clang-tidy-16" >&2; exit 2; }
[ -f .build/dev/compile_commands.json ] || cmake --preset dev >/dev/null

if [ $# -gt 0 ]; then files=("$@"); else
  mapfile -t files < <(git ls-files 'client/*.cc' 'server/*.cc' 'cli/*.cc')
fi
printf '%s\n' "${files[@]}" |
  xargs -P "${CMAKE_BUILD_PARALLEL_LEVEL:-2}" -n 1 "$tidy" -p .build/dev --quiet 2>/dev/null
