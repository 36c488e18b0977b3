/* The adapters of one run, and what an export came to by them. Included by cli/. */
#ifndef KEYWAY_CLI_ADAPTERS_H
#define KEYWAY_CLI_ADAPTERS_H

#include "findings/outcome.h"
#include "read/adapter.h"

struct adapters {
  bool for_settings, for_log;                        /* one was asked for */
  const struct source *settings_source, *log_source; /* as opened; NULL: not asked for, or not readable */
  struct adapter *settings, *log;                    /* NULL: not asked for, or refused */
};

/* Opens the files; names may be NULL. */
void adapters_open(struct adapters *adapters, struct sources *sources, const char *settings, const char *log,
                   struct problems *problems);

/* Reads them; without a name of its own the log's is that of the settings when it has a log section. */
void adapters_read(struct adapters *adapters, struct arena *arena, const struct vocabulary *vocabulary,
                   struct problems *problems);
void adapters_free(struct adapters *adapters);

/* A settings file, or an export by the adapter: NULL when refused, or when the adapter was. `use` may be NULL. */
const struct settings *adapters_settings(const struct adapters *adapters, struct arena *arena,
                                         const struct vocabulary *vocabulary, const struct source *source,
                                         struct adapter_use *use, struct problems *problems);

/* For the report; `list`: with the unknown records. Lives in `arena`. */
const struct coverage *adapters_coverage(struct arena *arena, const struct vocabulary *vocabulary,
                                         const struct adapter_use *use, bool list);

#endif
