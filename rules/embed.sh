#!/bin/sh
# Writes the C file that builds rules/ into the program (declared in src/cli/embedded.h): rules/embed.sh RULES_DIR FREEZE > build/embedded.c
# FREEZE is the program out of rules/freeze.c. Packs come three times: compiled, for the audits that most runs are (a rule
# that is wrong ends the build here); as ready trees without `cases:` and `unchanged_by:`, for audits with further packs;
# and whole, for prove and explain.
set -eu
LC_ALL=C
export LC_ALL

rules=${1:?usage: rules/embed.sh RULES_DIR FREEZE}
freeze=${2:?usage: rules/embed.sh RULES_DIR FREEZE}
scratch=$(mktemp -d)
mkdir "$scratch/rules"
trap 'rm -rf "$scratch"' EXIT

# A rule's keys stand where the first item under `rules:` has them. A block goes on over blank lines, comments, deeper
# lines, and list items at the key's own indentation, which YAML allows.
strip() {
  awk '
    function indent(line) { match(line, /^ */); return RLENGTH }
    /^rules:/ { in_rules = 1; keys = -1; cut = 0; print; next }
    in_rules && keys < 0 && /^ *- / { item = $0; sub(/^ *- +/, "", item); keys = length($0) - length(item) }
    cut && (/^[ \t\r]*$/ || /^ *#/ || indent($0) > keys || (indent($0) == keys && /^ *- /)) { next }
    { cut = 0 }
    in_rules && indent($0) == keys && /^ *(cases|unchanged_by) *:/ { cut = 1; next }
    { print }
  ' "$1"
}

bytes() { # C_NAME FILE
  echo "static const unsigned char $1[] = {"
  od -An -v -tu1 "$2" | sed 's/^ *//; s/  */,/g; s/$/,/'
  echo "0};"
}

frozen() { # C_NAME FILE
  "$freeze" "$2" >"$scratch/frozen"
  bytes "$1" "$scratch/frozen"
}

file() { # C_NAME FILE: an initialiser
  echo "{\"rules/$(basename "$2")\", $1, sizeof $1 - 1}"
}

echo '/* Written by rules/embed.sh out of rules/; not to be edited. */'
echo '#include "cli/embedded.h"'
frozen dictionary_bytes "$rules/dictionary.yaml"
frozen cautions_bytes "$rules/cautions.yaml"
frozen checklist_bytes "$rules/checklist.yaml"
count=0
for pack in "$rules"/*.yaml; do
  case ${pack##*/} in dictionary.yaml | cautions.yaml | checklist.yaml) continue ;; esac
  strip "$pack" >"$scratch/rules/${pack##*/}"
  frozen "pack_$count" "$scratch/rules/${pack##*/}"
  bytes "whole_$count" "$pack"
  echo "  $(file pack_$count "$pack")," >>"$scratch/packs"
  echo "  $(file whole_$count "$pack")," >>"$scratch/wholes"
  count=$((count + 1))
done
[ "$count" -gt 0 ] || {
  echo "rules/embed.sh: no rule pack in $rules" >&2
  exit 1
}
"$freeze" "$rules/dictionary.yaml" "$rules/cautions.yaml" "$scratch"/rules/*.yaml >"$scratch/image"
bytes image_bytes "$scratch/image"
echo "const struct embedded_file embedded_image ="
echo "  {\"rules\", image_bytes, sizeof image_bytes - 1};"
echo "const struct embedded_file embedded_dictionary ="
echo "  $(file dictionary_bytes dictionary.yaml);"
echo "const struct embedded_file embedded_cautions ="
echo "  $(file cautions_bytes cautions.yaml);"
echo "const struct embedded_file embedded_checklist ="
echo "  $(file checklist_bytes checklist.yaml);"
echo "const struct embedded_file embedded_packs[] = {"
cat "$scratch/packs"
echo "};"
echo "const size_t embedded_pack_count = $count;"
echo "const struct embedded_file embedded_whole_packs[] = {"
cat "$scratch/wholes"
echo "};"
