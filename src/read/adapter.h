/* Adapters: rules/ADAPTERS.md. Included by cli/, read/ and tests. An adapter lives in one arena; immutable once read,
 * but for the scratch space of its patterns: one thread at a time. */
#ifndef KEYWAY_READ_ADAPTER_H
#define KEYWAY_READ_ADAPTER_H

#include "model/subject.h"
#include "text/record.h"

struct adapter;

/* Reads and checks an adapter: keys, names, units, patterns, values, each with its place. NULL when anything was
 * refused (all problems are added). Free with adapter_free (patterns), before its arena goes. */
struct adapter *adapter_read(struct arena *arena, const struct vocabulary *vocabulary, const struct source *source,
                             struct problems *problems);
void adapter_free(struct adapter *adapter);

/* As the file says; the file's name when it says nothing. */
struct slice adapter_name(const struct adapter *adapter);
bool adapter_has_settings(const struct adapter *adapter);
bool adapter_has_log(const struct adapter *adapter);

/* What became of an export's records. */
struct adapter_use {
  size_t used, ignored, unknown;
  const struct record_line *const *unknown_records; /* `unknown` of them, in file order */
  const bool *has_entry;                            /* one for each tune name: the adapter has an entry for it */
};

/* Decodes and flattens an export as the adapter's `reads` says; `adapter` NULL: as its bytes suggest. false when
 * refused. */
bool adapter_records(struct arena *arena, const struct adapter *adapter, struct source *source,
                     struct problems *problems, struct record_list *out);

/* An export to settings: places point into the export, but those of fixed values (`is`), which stand in the adapter.
 * NULL when refused (all problems are added, each names the entry). `source` is decoded in place. */
const struct settings *adapter_settings(struct arena *arena, const struct adapter *adapter,
                                        const struct vocabulary *vocabulary, struct source *source,
                                        struct adapter_use *use, struct problems *problems);

/* How one number, switch or choice is written; a log's channel is nothing else. */
struct adapter_channel {
  const struct entry *entry;
  const struct unit *unit; /* NULL: the heading's own, else the dictionary's */
  double scale, offset;    /* written * scale + offset is in `unit` */
  double base_offset;      /* added in base units: a barometer under gauge pressure */
  double ratio;            /* > 0: an air-fuel ratio to be divided by this */
  int bit;                 /* >= 0: this bit of a whole number */
  bool inverted;
  size_t word_count; /* texts that stand for numbers: "ON" 1; base units; a choice's index */
  const struct slice *words;
  const double *word_values;
};

/* The channels that a heading of a log is for: several when it holds bits. Start with *next 0; NULL: no more. */
const struct adapter_channel *adapter_channel(const struct adapter *adapter, struct slice heading, size_t *next);
/* A word of `values` in any case: its number in *out. */
bool adapter_word(const struct adapter_channel *channel, struct slice text, double *out);
/* A written number in base units; not finite, or NAN for a bit of something that is no whole number: cannot be. `unit`
 * is that of the column. */
double adapter_number(const struct adapter_channel *channel, const struct unit *unit, double written);
/* A unit by the export's word (`units`) or Keyway's; NULL: none, *why is one line. */
const struct unit *adapter_unit_find(const struct adapter *adapter, struct arena *arena, struct slice text,
                                     const char **why);
double adapter_rate(const struct adapter *adapter); /* samples per second; 0: not given */
bool adapter_only(const struct adapter *adapter);   /* columns of other names are left out */

#endif
