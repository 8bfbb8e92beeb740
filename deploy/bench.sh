#!/usr/bin/env bash
# Builds what keepers run, and times it against the limit of the same run.
set -euo pipefail
cd "$(dirname "$0")/.."

deploy/setup.sh
cmake --preset release -DBROODPACT_BENCH=ON >/dev/null
cmake --build --preset release -j "${CMAKE_BUILD_PARALLEL_LEVEL:-2}" \
  --target rooms_bench kinship_bench search_bench sync_bench >/dev/null
.build/release/tests/bench/rooms_bench --benchmark_min_time=0.5
.build/release/tests/bench/kinship_bench
.build/release/tests/bench/search_bench 1000000
.build/release/tests/bench/sync_bench --commits 20000 --push 1000 --live 100
.build/release/tests/bench/sync_bench "$@"
