/* A finding: a rule speaks about the tune. Included by audit/, report/, cli/. Lives in the audit's arena. */
#ifndef KEYWAY_FINDINGS_FINDING_H
#define KEYWAY_FINDINGS_FINDING_H

#include "base/arena.h"
#include "base/place.h"
#include "base/slice.h"
#include "model/stage.h"
#include "units/unit.h"

enum verdict { VERDICT_FLAGGED, VERDICT_CLEAR, VERDICT_UNDECIDED, VERDICT_NOT_APPLICABLE, VERDICT_COUNT };
const char *verdict_name(enum verdict verdict); /* "flagged", "clear", "undecided", "not_applicable" */

struct evidence {
  struct place place;
  const char *text; /* where in the engine: "3000 rpm, 160 kPa"; "12.4 s to 15.0 s"; "" when the place says all */
  bool has_x, has_y;
  struct quantity x, y; /* axis values of a point or cell */
  bool has_value;
  struct quantity value; /* what was measured there */
  bool has_span;
  struct quantity start, end; /* time in the log */
  double excess;              /* how far beyond the limit, for the order: worst first */
};

struct finding {
  const struct rule *rule; /* opaque here; report uses the texts below */
  const char *id;          /* the rule's */
  enum severity severity;
  bool first; /* stands before all others, whatever its severity */
  const char *title;
  const char *message; /* about the worst place */
  const char *subject; /* "tune.fuel.warm_up_enrichment" */
  size_t evidence_count;
  const struct evidence *evidence; /* worst first */
  bool has_measured, has_limit;
  struct quantity measured, limit;
  const char *limit_from; /* "rule pack", "job sheet: thermostat opens at 82"; NULL when the limit is not a named one */
  const char *why, *act, *verify, *by_design, *basis;
  size_t caution_count;
  const char *const *cautions; /* ids */
  const struct finding *cause; /* another finding that explains this one; NULL: none. Of the same array, no cycles */
  const char *identity;        /* 16 hex digits: same rule, subject and places by axis value give the same identity */
};

/* Order of reports: file, severity (worst first), place, rule. */
void findings_sort(struct finding *findings, size_t count);

/* Worst first (excess, then place). */
void evidence_sort(struct evidence *evidence, size_t count);

/* FNV-1a 64 over rule id, subject and the axis values (six significant digits) of all evidence, as 16 hex digits in
 * `arena`; places in the file and measured values stay out, so that it survives reformatting. */
const char *finding_identity(struct arena *arena, const struct finding *finding);

#endif
