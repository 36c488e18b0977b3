/* What `keyway audit` and `keyway log` were asked to do: the meaning of their options. Included by cli/. */
#ifndef KEYWAY_CLI_REQUEST_H
#define KEYWAY_CLI_REQUEST_H

#include "cli/line.h"
#include "model/stage.h"
#include "report/report.h"

enum color_choice { COLOR_AUTO, COLOR_ALWAYS, COLOR_NEVER };

struct output_request {
  const struct report_format *format;
  const char *file; /* NULL: standard output */
};

struct request {
  size_t settings_count;
  const char *const *settings;
  size_t log_count;
  const char *const *logs;
  const char *job, *before, *root, *adapter, *log_adapter; /* NULL: not given */
  bool has_stage;
  enum stage stage;
  size_t table_count;
  const char *const *tables; /* names in the vocabulary */
  size_t rules_count;
  const char *const *rules;
  enum severity fail_on; /* SEVERITY_NONE: never */
  size_t need;
  size_t threads; /* for a long log; 0: as many as are worth starting */
  double rate;    /* samples per second, 0: not given */
  size_t output_count;
  const struct output_request *outputs; /* at least one; at most one to standard output */
  enum color_choice color;
  bool stats, unused;
};

/* false when something is wrong: every mistake is added as a problem of usage. */
bool request_read(struct arena *arena, const struct line *line, struct request *out, struct problems *problems);

/* A format by name; NULL and a problem when there is none. */
const struct report_format *request_format(const char *name, struct problems *problems);

#endif
