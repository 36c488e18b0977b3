/* Adapters: rules/ADAPTERS.md. Included by cli/, read/ and tests. An adapter lives in one arena; immutable once read.
 */
#ifndef KEYWAY_READ_ADAPTER_H
#define KEYWAY_READ_ADAPTER_H

#include "model/subject.h"
#include "text/record.h"

struct adapter;

/* Reads and checks an adapter: keys, names, units, patterns, values, each with its place. NULL when anything was
 * refused. Free with adapter_free (patterns). */
struct adapter *adapter_read(struct arena *arena, const struct vocabulary *vocabulary, const struct source *source,
                             struct problems *problems);
void adapter_free(struct adapter *adapter);

const char *adapter_name(const struct adapter *adapter);
bool adapter_has_settings(const struct adapter *adapter);
bool adapter_has_log(const struct adapter *adapter);

/* What became of an export's records. */
struct adapter_use {
  size_t used, ignored, unknown;
  size_t unknown_count;                             /* == unknown */
  const struct record_line *const *unknown_records; /* in file order */
  const bool *has_entry;                            /* one for each tune name: the adapter has an entry for it */
};

/* An export to settings: places point into the export. NULL when refused. `source` is decoded in place. */
const struct settings *adapter_settings(struct arena *arena, const struct adapter *adapter,
                                        const struct vocabulary *vocabulary, struct source *source,
                                        struct adapter_use *use, struct problems *problems);

/* How a log column is read, for read/log.c: NULL when the adapter has no channel for that heading. */
struct adapter_channel {
  const struct entry *entry;
  const struct unit *unit; /* NULL: the heading's own, else the dictionary's */
  double scale, offset;    /* written * scale + offset is in `unit` */
  double base_offset;      /* added in base units: a barometer under gauge pressure */
  double ratio;            /* > 0: an air-fuel ratio to be divided by this */
  int bit;                 /* >= 0: this bit of a whole number */
  bool inverted;
  size_t word_count; /* texts that stand for numbers: "ON" 1 */
  const struct slice *words;
  const double *word_values;
};
const struct adapter_channel *adapter_channel(const struct adapter *adapter, struct slice heading);
double adapter_rate(const struct adapter *adapter); /* samples per second; 0: not given */
bool adapter_only(const struct adapter *adapter);

#endif
