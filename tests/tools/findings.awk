# What a JSON report of `keyway audit` found, whatever units the settings were written in: a line a finding (rule, severity,
# subject), then a line for each piece of evidence: where in the engine, in degC and kPa, and what was measured.
# With -v places=1: a line for each piece of evidence: rule, file, line, column, text.
function field(from, name,   at, rest) {
  at = index(from, "\"" name "\":")
  if (at == 0) return ""
  rest = substr(from, at + length(name) + 3)
  if (substr(rest, 1, 1) == "\"") {
    rest = substr(rest, 2)
    return substr(rest, 1, index(rest, "\"") - 1)
  }
  match(rest, /^[^,}]*/)
  return substr(rest, 1, RLENGTH)
}
# Three digits: exports round.
function amount(number, unit) {
  if (number == "null") return "-"
  if (unit == "degF") { number = (number - 32) / 1.8; unit = "degC" }
  if (unit == "inHg") { number *= 3.386388; unit = "kPa" }
  if (unit == "psi") { number *= 6.894757; unit = "kPa" }
  if (unit == "mbar") { number /= 10; unit = "kPa" }
  if (unit == "bar") { number *= 100; unit = "kPa" }
  if (unit ~ /\/inHg$/) { number /= 3.386388; sub(/inHg$/, "kPa", unit) }
  if (unit ~ /\/mbar$/) { number *= 10; sub(/mbar$/, "kPa", unit) }
  return sprintf("%.3g %s", number, unit)
}
{
  count = split($0, findings, /[{]"rule":/)
  for (i = 2; i <= count; i++) {
    finding = "\"rule\":" findings[i]
    if (index(finding, "\"evidence\":") == 0) continue
    rule = field(finding, "rule")
    finding = substr(finding, 1, index(finding, "],\"measured\":") - 1)
    if (!places) print rule, field(finding, "severity"), field(finding, "subject")
    pieces = split(finding, evidence, /[{]"file":/)
    for (k = 2; k <= pieces; k++) {
      piece = "\"file\":" evidence[k]
      text = field(piece, "text")
      if (places) {
        print rule "\t" field(piece, "file") "\t" field(piece, "line") "\t" field(piece, "column") "\t" text
        continue
      }
      if (field(piece, "x") != "null")
        text = amount(field(piece, "x"), field(piece, "x_unit")) ", " amount(field(piece, "y"), field(piece, "y_unit"))
      print rule, field(finding, "subject") ": at " text "; " amount(field(piece, "value"), field(piece, "unit")) \
        "; " field(piece, "start") " to " field(piece, "end") " s"
    }
  }
}
