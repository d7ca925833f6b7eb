#!/usr/bin/env bash
# Separates a folder of pictures in several processes with GNU parallel, on this
# machine or on those named in MACHINES ("ann,ben": a shared folder at the same
# path, reached by ssh), then gathers what they made.
#
#   PARTS=8 JOBS=2 examples/scripts/batch-parallel.sh FOLDER [flags of platewright batch]
set -euo pipefail
folder=${1:?name a folder of pictures}
shift
program=${PLATEWRIGHT:-platewright}
parts=${PARTS:-8}
where=()
if [ -n "${MACHINES:-}" ]; then
	where=(--sshlogin "$MACHINES" --workdir "$PWD")
fi
out=()
for ((i = 1; i <= $#; i++)); do
	case ${!i} in
	-o | --out) next=$((i + 1)) && out=(-o "${!next}") ;;
	-o=* | --out=*) out=("${!i}") ;;
	esac
done

# A process ends with 3 when a picture of its part failed: the summary names it.
seq "$parts" | parallel --quote --jobs "${JOBS:-2}" "${where[@]}" \
	"$program" batch "$folder" "$@" --part "{}/$parts" || true
"$program" batch "$folder" "${out[@]}" --collect
