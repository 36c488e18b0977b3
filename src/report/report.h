/* Reports: one file a format; bytes out, opens nothing. Included by cli/. */
#ifndef KEYWAY_REPORT_REPORT_H
#define KEYWAY_REPORT_REPORT_H

#include "base/source.h"
#include "findings/outcome.h"

#include <stdbool.h>
#include <stdio.h>

struct report_options {
  bool color;     /* text only; colour never carries meaning alone */
  unsigned width; /* columns to wrap text at; 0: 88 */
};

/* Each writes one whole report of one settings file. Control characters of inputs never come out raw. */
void report_text(FILE *out, const struct outcome *outcome, struct sources *sources,
                 const struct report_options *options);
/* One JSON object on one line. */
void report_json(FILE *out, const struct outcome *outcome, struct sources *sources,
                 const struct report_options *options);

/* Problems as people read them: "name:line:column: message", the line, a caret line, "hint: ...". Used for stderr and
 * by report_text. */
void report_problems(FILE *out, const struct problems *problems, struct sources *sources,
                     const struct report_options *options);

/* Catalogue of formats: name, writer; NULL name ends it. */
struct report_format {
  const char *name;
  const char *about;
  void (*write)(FILE *out, const struct outcome *outcome, struct sources *sources,
                const struct report_options *options);
};
extern const struct report_format report_formats[];

#endif
