#!/usr/bin/env bash
# Installs what is needed, builds what keepers run, and plays a season of a made-up cooperative with
# a real server on loopback. Leaves its folder to play with.
#
#   deploy/demo.sh [folder]      (default: a fresh folder under the system's temporary one)
set -euo pipefail
cd "$(dirname "$0")/.."

deploy/setup.sh
cmake --preset release >/dev/null
cmake --build --preset release -j "${CMAKE_BUILD_PARALLEL_LEVEL:-2}" \
  --target broodpact broodpact-server | grep -v '^\[' || true
bin=$PWD/.build/release
folder=${1:-$(mktemp -d -t broodpact-demo.XXXXXX)}
mkdir -p "$folder"

server_pid=
stop_server() { [ -z "$server_pid" ] || kill "$server_pid" 2>/dev/null || true; }
trap stop_server EXIT

bold=; dim=; plain=
if [ -t 1 ] && [ -z "${NO_COLOR:-}" ]; then bold=$'\e[1m'; dim=$'\e[2m'; plain=$'\e[0m'; fi
story() { printf '\n%s%s%s\n' "$bold" "$*" "$plain"; }

# keeper <name> <words>...: shows the command and runs it in that keeper's home.
keeper() {
  local name=$1
  shift
  printf '%s%s$ broodpact %s%s\n' "$dim" "$name" "$*" "$plain"
  "$bin/cli/broodpact" --home "$folder/$name" "$@" </dev/null
}
# quietly <name> <words>...: the same without showing it.
quietly() { "$bin/cli/broodpact" --home "$folder/$1" "${@:2}" >/dev/null 2>&1 </dev/null; }
# Twice: the second round brings to the first what the last delivered.
sync_all() { for name in tomas mira bela iva tomas mira bela; do quietly "$name" sync; done; }
ago() { date -d "$1 days ago" +%F; }

started=$SECONDS
story "A server on this machine, with a certificate authority of its own"
"$bin/server/broodpact-server" --data "$folder/server" --listen 127.0.0.1:0 \
  >"$folder/server.out" 2>"$folder/server.log" &
server_pid=$!
for _ in $(seq 200); do [ -s "$folder/server/address" ] && break; sleep 0.05; done
claim=$(grep -oE 'broodpact1[a-z0-9]+' "$folder/server.out" | head -1)
echo "listening on $(cat "$folder/server/address")"

story "Tomas founds a cooperative, offline, and gives it the server"
for name in tomas mira bela iva; do
  region=CZ
  [ "$name" = bela ] && region=HU
  quietly "$name" start --name "$name" --region "$region"
done
keeper tomas found "The Cellar Lantern"
keeper tomas group add hamorii-colima --taxon "Brachypelma hamorii" --locality Colima
quietly tomas join "$claim"
for name in mira bela iva; do
  code=$("$bin/cli/broodpact" --home "$folder/tomas" invite 2>/dev/null </dev/null)
  quietly tomas sync
  printf '%s%s$ broodpact join -%s\n' "$dim" "$name" "$plain"
  printf '%s\n' "$code" | "$bin/cli/broodpact" --home "$folder/$name" join -
done

story "Everybody enters animals"
keeper tomas animal add cyril --group hamorii-colima --sex male --method adult-form \
  --hatched 2021 --mature "$(ago 75)"
quietly bela animal add olda --group hamorii-colima --sex male --method adult-form \
  --mature "$(ago 190)"
keeper mira animal add rosa --group hamorii-colima --sex female --method shed-skin --hatched 2016
quietly mira animal moult rosa --on "$(ago 120)"
sync_all

story "At a show with no signal, Mira looks for a male"
keeper mira find male --for rosa

story "Tomas offers his male, still offline: Iva will raise the slings and gets 5 per cent first"
keeper tomas loan offer cyril --to mira --name rosa-26 --share tomas=3 --share mira=4 \
  --first iva=5% --role iva=raiser --until "$(date -d '120 days' +%F)"
quietly tomas sync
quietly mira sync
keeper mira loan show rosa-26
keeper mira loan accept rosa-26
quietly iva sync
keeper iva loan accept rosa-26
sync_all

story "The handover"
keeper tomas loan send rosa-26 --on "$(ago 70)"
sync_all
keeper mira loan receive rosa-26 --on "$(ago 69)" --arrived well

story "Pairing, sac, and the way home"
keeper mira pair cyril rosa --on "$(ago 66)" --outcome seen
keeper mira sac laid rosa --on "$(ago 40)" --name C1
keeper mira sac pulled C1 --on "$(ago 12)"
keeper mira loan return rosa-26 --on "$(ago 60)"
sync_all
keeper tomas loan receive rosa-26 --on "$(ago 58)" --arrived well

story "The day the sac is opened: a count, and the split that the terms imply
(all of this is signed today, so the registry marks the agreement as signed after the sac)"
keeper mira count C1 --living 187 --dead 9 --on "$(ago 2)"
keeper mira split C1 --preview
keeper mira split C1

story "Tomas's slings travel; one does not live to see it"
sync_all
lot=$("$bin/cli/broodpact" --home "$folder/mira" split C1 --preview --json |
  tr -d '\n ' | sed -E 's/.*"name":"tomas"[^}]*},"slings":[0-9]+,"lot":\{"id":"([a-z0-9]+)".*/\1/')
slings=$("$bin/cli/broodpact" --home "$folder/mira" split C1 --preview --json |
  tr -d '\n ' | sed -E 's/.*"name":"tomas"[^}]*},"slings":([0-9]+).*/\1/')
keeper mira lot give "$lot" --slings "$slings"
sync_all
parcel=$("$bin/cli/broodpact" --home "$folder/tomas" lot list --json |
  tr -d '\n ' | grep -oE '"id":"[a-z0-9]{26}","clutch"' | head -1 | cut -d'"' -f4)
keeper tomas lot receive "$parcel" --living "$((slings - 1))" --dead 1
sync_all

story "What everybody now has"
keeper bela status
keeper iva lot list
keeper bela log --limit 5
keeper tomas kin cyril rosa
keeper tomas verify

story "Done in $((SECONDS - started)) s. Go on from here:"
cat <<END
  the server runs until this script ends; start it again with
    $bin/server/broodpact-server --data $folder/server --listen $(cat "$folder/server/address")
  and be any of tomas, mira, bela, iva with
    $bin/cli/broodpact --home $folder/mira status
END
