/* Reports: one file a format; bytes out, opens nothing. Included by cli/. */
#ifndef KEYWAY_REPORT_REPORT_H
#define KEYWAY_REPORT_REPORT_H

#include "base/source.h"
#include "findings/outcome.h"
#include "model/survey.h"

#include <stdbool.h>
#include <stdio.h>

struct report_options {
  bool color;          /* text only; colour never carries meaning alone */
  unsigned width;      /* columns to wrap text at; 0: 88 */
  const char *version; /* of the program, for machine-readable formats */
};

/* What a run over several settings files came to, for the last line of a text report. */
struct report_total {
  size_t files;
  size_t at_status[6]; /* how many files came to exit status 0 to 5 */
  enum severity fail_on;
  int exit;
};

/* Each writes one whole report of one settings file. Control characters of inputs never come out raw. false: memory ran
 * out before the report was whole; a stream that cannot be written is left to the caller (ferror). */
bool report_text(FILE *out, const struct outcome *outcome, struct sources *sources,
                 const struct report_options *options);
/* One JSON object on one line. */
bool report_json(FILE *out, const struct outcome *outcome, struct sources *sources,
                 const struct report_options *options);

/* What became of one log of `keyway log`. */
struct report_log {
  struct slice file;
  const struct survey *survey; /* NULL: refused */
  const struct problems *problems;
  int exit; /* the status this file alone gives */
};

/* The same for the summary of one log. */
bool report_log_text(FILE *out, const struct report_log *log, struct sources *sources,
                     const struct report_options *options);
bool report_log_json(FILE *out, const struct report_log *log, struct sources *sources,
                     const struct report_options *options);

/* Between two text reports, and after the last of several: why the program exits as it does. */
void report_text_between(FILE *out);
void report_text_total(FILE *out, const struct report_total *total);

/* Problems as people read them: "name:line:column: message", the line, a caret line, "hint: ..."; sorted. Used for
 * stderr and by report_text. */
void report_problems(FILE *out, const struct problems *problems, struct sources *sources,
                     const struct report_options *options);

/* "exit 1: 3 findings at fix or over"; lives in `arena`. */
const char *report_reason(struct arena *arena, const struct outcome *outcome);

/* Why an export lacks a setting: "the adapter has no entry for it"; NULL without an adapter, and when `missing` is no
 * "tune.NAME". Static. */
const char *report_lack(const struct outcome *outcome, const char *missing);

/* "settings.yaml:41:7", escaped; only the name when the source is empty; "" without a place. Lives in `arena`. */
const char *report_place(struct arena *arena, struct sources *sources, struct place place);

/* Catalogue of formats; NULL name ends it. */
struct report_format {
  const char *name;
  const char *about;
  bool (*write)(FILE *out, const struct outcome *outcome, struct sources *sources,
                const struct report_options *options);
  bool (*write_log)(FILE *out, const struct report_log *log, struct sources *sources,
                    const struct report_options *options);     /* NULL: no summary of a log has this form */
  void (*between)(FILE *out);                                  /* two reports; NULL: nothing */
  void (*finish)(FILE *out, const struct report_total *total); /* after several; NULL: nothing */
};
extern const struct report_format report_formats[];

#endif
