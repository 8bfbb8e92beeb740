#!/usr/bin/env bash
# Real faults in loops, on what keepers run: processes killed with -9 at random points, files of a
# database flipped and cut, and, as root only, a disk that is full (a small tmpfs) and a network that is
# cut and slow (one of its own). Ends at the first thing that is lost or not told, and keeps its folder
# then.
#
#   deploy/soak.sh [rounds] [seed]      (default: 50 rounds, seed 1)
set -euo pipefail
cd "$(dirname "$0")/.."

rounds=${1:-50}
RANDOM=${2:-1}
cmake --preset release >/dev/null
cmake --build --preset release -j "${CMAKE_BUILD_PARALLEL_LEVEL:-2}" \
  --target broodpact broodpact-server | grep -v '^\[' || true
broodpact=$PWD/.build/release/cli/broodpact
server=$PWD/.build/release/server/broodpact-server
folder=$(mktemp -d -t broodpact-soak.XXXXXX)
keepers=(tomas mira bela)
declare -A kept=()  # animals whose entry was acknowledged, with their keeper
server_pid=

# From here on in a network of its own, where the machine allows it.
if [ -z "${BROODPACT_SOAK_NETWORK:-}" ] && [ "$(id -u)" -eq 0 ] && command -v ip >/dev/null &&
  unshare --net true 2>/dev/null; then
  rmdir "$folder"
  BROODPACT_SOAK_NETWORK=own exec unshare --net "$PWD/deploy/soak.sh" "$@"
fi
[ -z "${BROODPACT_SOAK_NETWORK:-}" ] || ip link set lo up

fail() {
  echo "FAILED: $*; the folder $folder is kept" >&2
  [ -z "$server_pid" ] || kill -9 "$server_pid" 2>/dev/null || true
  exit 1
}
at() {
  local home=$1
  shift
  "$broodpact" --home "$folder/$home" "$@" </dev/null
}
# The same with nothing between, for what runs in the background: what is killed is the program.
be_at() {
  local home=$1
  shift
  exec "$broodpact" --home "$folder/$home" "$@" </dev/null
}
start_server() {
  "$server" --data "$folder/server" --listen "${address:-127.0.0.1:0}" \
    >>"$folder/server.out" 2>>"$folder/server.log" &
  server_pid=$!
  for _ in $(seq 200); do
    grep -qs . "$folder/server/address" && at tomas status >/dev/null 2>&1 && break
    sleep 0.05
  done
  address=$(cat "$folder/server/address")
}
kill_server() {
  kill -9 "$server_pid" 2>/dev/null || true
  wait "$server_pid" 2>/dev/null || true
}
nap() { sleep "0.$(printf '%03d' $((RANDOM % $1)))"; }

begin() {
  for name in "${keepers[@]}"; do at "$name" start --name "$name" --region CZ >/dev/null 2>&1; done
  at tomas found "The Soaked Cork" >/dev/null 2>&1
  at tomas group add hamorii-colima --taxon "Brachypelma hamorii" >/dev/null 2>&1
  start_server
  at tomas join "$(grep -oE 'broodpact1[a-z0-9]+' "$folder/server.out" | head -1)" >/dev/null 2>&1
  for name in mira bela; do
    at tomas invite 2>/dev/null >"$folder/code"
    at tomas sync >/dev/null 2>&1
    "$broodpact" --home "$folder/$name" join - <"$folder/code" >/dev/null 2>&1
    at "$name" sync >/dev/null 2>&1
  done
}

# A keeper enters some animals, and is killed in the middle of one or not at all. Only what was
# acknowledged has to stay.
work() {
  local name=$1 round=$2 i animal pid
  for i in $(seq $((1 + RANDOM % 4))); do
    animal="$name-$round-$i"
    be_at "$name" animal add "$animal" --group hamorii-colima >/dev/null 2>&1 &
    pid=$!
    if [ $((RANDOM % 4)) -eq 0 ]; then
      nap 40
      kill -9 "$pid" 2>/dev/null || true
    fi
    if wait "$pid" 2>/dev/null; then kept[$animal]=$name; fi
  done
}

# Syncs of which one end or the other is killed.
broken_sync() {
  local name=$1 pid
  be_at "$name" sync >/dev/null 2>&1 &
  pid=$!
  nap 120
  case $((RANDOM % 3)) in
    0) kill -9 "$pid" 2>/dev/null || true ;;
    1) kill_server ;;
    2) kill -9 "$pid" 2>/dev/null || true
       kill_server ;;
  esac
  wait "$pid" 2>/dev/null || true
  kill -0 "$server_pid" 2>/dev/null || start_server
}

# A sync over a network that is cut without a word and comes back, or stays away for longer than the
# keeper waits, or is slow.
poor_sync() {
  [ -n "${BROODPACT_SOAK_NETWORK:-}" ] || return 0
  local name=$1 pid code=0
  tc qdisc add dev lo root tbf rate "$((64 + RANDOM % 512))kbit" burst 5k latency 400ms 2>/dev/null ||
    true
  be_at "$name" sync >"$folder/poor.out" 2>&1 &
  pid=$!
  nap 400
  if [ $((RANDOM % 3)) -gt 0 ]; then
    ip link set lo down
    nap 900
    [ $((RANDOM % 2)) -eq 0 ] || kill -INT "$pid" 2>/dev/null || true
    ip link set lo up
  fi
  tc qdisc del dev lo root 2>/dev/null || true
  wait "$pid" || code=$?
  case $code in
    0 | 6 | 130) ;;
    *) fail "a sync of $name over a poor network ends with $code: $(tail -1 "$folder/poor.out")" ;;
  esac
}

# A copy of a home with a byte flipped, or a file cut short: told by name or harmless, and a rebuild
# either restores the state or says what is lost.
damage() {
  local name=$1 copy=$folder/damaged files file size code
  rm -rf "$copy"
  cp -a "$folder/$name" "$copy"
  mapfile -t files < <(find "$copy/replica/db" -type f -size +0 ! -name LOCK ! -name 'LOG*')
  file=${files[RANDOM % ${#files[@]}]}
  size=$(stat -c %s "$file")
  if [ $((RANDOM % 2)) -eq 0 ]; then
    truncate -s $((RANDOM * 32768 % size)) "$file"
  else
    printf "\\x$(printf '%02x' $((RANDOM % 256)))" |
      dd of="$file" bs=1 seek=$(((RANDOM * 32768 + RANDOM) % size)) conv=notrunc 2>/dev/null
  fi
  code=0
  at damaged verify >"$folder/verify.out" 2>&1 || code=$?
  case $code in
    0) [ "$(at damaged verify --json | grep -o '"state_digest":"[^"]*"')" = \
         "$(at "$name" verify --json | grep -o '"state_digest":"[^"]*"')" ] ||
         grep -q "$(basename "$file")\|shorter\|fewer" "$folder/verify.out" ||
         fail "damage to $(basename "$file") of $name is not told" ;;
    8) grep -qi "damaged\|missing\|shorter\|lost\|does not\|cannot be read" "$folder/verify.out" ||
         fail "damage to $(basename "$file") is told without words" ;;
    *) fail "verify of a damaged replica ends with $code: $(tail -1 "$folder/verify.out")" ;;
  esac
  code=0
  at damaged rebuild >"$folder/rebuild.out" 2>&1 || code=$?
  case $code in
    0 | 8) ;;
    *) fail "rebuild of a damaged replica ends with $code: $(tail -1 "$folder/rebuild.out")" ;;
  esac
}

# A disk that fills while a keeper writes: refused in words, and nothing that was acknowledged gone.
full_disk() {
  [ "$(id -u)" -eq 0 ] || return 0
  local small=$folder/small home=small/home i animal told=
  mkdir -p "$small"
  mount -t tmpfs -o size=24m tmpfs "$small" 2>/dev/null || return 0
  cp -a "$folder/bela" "$small/home"
  dd if=/dev/zero of="$small/ballast" bs=64k 2>/dev/null || true
  truncate -s -128k "$small/ballast"
  local -a entered=()
  for i in $(seq 400); do
    animal="full-$i"
    if at "$home" animal add "$animal" --group hamorii-colima >/dev/null 2>"$folder/full.err"; then
      entered+=("$animal")
    else
      told=$(tail -1 "$folder/full.err")
      break
    fi
  done
  rm -f "$small/ballast"
  at "$home" animal list --limit 100000 >"$folder/full.out" 2>/dev/null || fail "a disk that was full: $told"
  for animal in "${entered[@]}"; do
    grep -q "^$animal	" "$folder/full.out" || fail "$animal was acknowledged on a full disk and is gone"
  done
  umount "$small"
  [ -z "$told" ] || [[ $told == *disk* || $told == *space* || $told == *full* ]] ||
    fail "a full disk is told as: $told"
}

check() {
  local name animal
  kill -0 "$server_pid" 2>/dev/null || start_server
  for name in "${keepers[@]}" "${keepers[@]}"; do
    at "$name" sync >/dev/null 2>"$folder/sync.err" || fail "$name: $(tail -1 "$folder/sync.err")"
  done
  for name in "${keepers[@]}"; do
    at "$name" animal list --limit 100000 >"$folder/animals" 2>/dev/null
    for animal in "${!kept[@]}"; do
      grep -q "^$animal	" "$folder/animals" || fail "$animal was acknowledged and $name lacks it"
    done
    at "$name" verify >"$folder/verify.out" 2>&1 || fail "$name: $(tail -1 "$folder/verify.out")"
  done
}

begin
for round in $(seq "$rounds"); do
  for name in "${keepers[@]}"; do work "$name" "$round"; done
  broken_sync "${keepers[RANDOM % 3]}"
  broken_sync "${keepers[RANDOM % 3]}"
  poor_sync "${keepers[RANDOM % 3]}"
  damage "${keepers[RANDOM % 3]}"
  if [ $((round % 10)) -eq 0 ]; then
    full_disk
    check
    echo "round $round: ${#kept[@]} animals acknowledged, none lost"
  fi
done
check
kill "$server_pid"
wait "$server_pid" 2>/dev/null || true
rm -rf "$folder"
echo "$rounds rounds: ${#kept[@]} animals acknowledged, none lost"
