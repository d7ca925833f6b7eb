#!/usr/bin/env bash
# Separates a folder of pictures on a Slurm cluster whose machines share it:
# an array of tasks, each of which takes its part by itself, then one that
# gathers what they made.
#
#   PARTS=8 examples/scripts/batch-slurm.sh FOLDER [flags of platewright batch]
#
# Run it again when tasks were cut off: what is done is not done twice.
set -euo pipefail
folder=${1:?name a folder of pictures}
shift
program=${PLATEWRIGHT:-platewright}
parts=${PARTS:-8}

quoted() { printf '%q ' "$@"; }
out=() # the summary is written where the results are
for ((i = 1; i <= $#; i++)); do
	case ${!i} in
	-o | --out) next=$((i + 1)) && out=(-o "${!next}") ;;
	-o=* | --out=*) out=("${!i}") ;;
	esac
done

array=$(sbatch --parsable --array="1-$parts" --job-name=plates --output=plates-%A-%a.log \
	--wrap "$(quoted "$program" batch "$folder" "$@")")
echo "array $array of $parts tasks"
# A task ends with 3 when a picture of its part failed: the summary names it.
sbatch --parsable --wait --dependency="afterany:$array" --job-name=summary --output="plates-$array-summary.log" \
	--wrap "$(quoted "$program" batch "$folder" "${out[@]}" --collect)" || true
cat "plates-$array-summary.log"
