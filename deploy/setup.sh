#!/usr/bin/env bash
# Installs what Broodpact needs to be built, tested and run on Debian 12. Does nothing where all of
# it is there already.
set -euo pipefail

packages=(
  g++ cmake ninja-build pkg-config ccache mold
  libcairo2-dev libpango1.0-dev libqrencode-dev
  libgrpc++-dev protobuf-compiler protobuf-compiler-grpc libprotobuf-dev
  librocksdb-dev libgoogle-perftools-dev libssl-dev libzstd-dev libabsl-dev libfmt-dev libcli11-dev
  libgtest-dev libgmock-dev librapidcheck-dev nlohmann-json3-dev libbenchmark-dev
  openssl
)

missing=()
for package in "${packages[@]}"; do
  dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'install ok installed' ||
    missing+=("$package")
done
[ ${#missing[@]} -eq 0 ] && exit 0

as_root=()
[ "$(id -u)" -eq 0 ] || as_root=(sudo)
echo "Installing: ${missing[*]}" >&2
"${as_root[@]}" apt-get update -qq
DEBIAN_FRONTEND=noninteractive "${as_root[@]}" apt-get install -y -qq --no-install-recommends \
  "${missing[@]}" >&2
