#!/usr/bin/env bash
# Installs, builds and runs every test. The README's test command.
set -euo pipefail
cd "$(dirname "$0")/.."

deploy/setup.sh
export CMAKE_BUILD_PARALLEL_LEVEL="${CMAKE_BUILD_PARALLEL_LEVEL:-2}"
cmake --workflow --preset check
