/* The example job in the four invented dialects of examples/dialects. Included by tests/tools/dialects*.c only. What a
 * dialect calls each setting stands in dialects_NAME.def; how it writes them in dialects_NAME.c. */
#ifndef KEYWAY_TESTS_DIALECTS_H
#define KEYWAY_TESTS_DIALECTS_H

#include "model/subject.h"

#include <stdio.h>

enum row_kind { ROW_VALUE, ROW_FLAG, ROW_CURVE, ROW_TABLE };

struct row { /* one setting as a dialect writes it; each dialect uses what it needs */
  enum row_kind kind;
  const char *name, *group, *label, *unit;
  int decimals;
  double scale;
  const char *value_label, *x_label, *x_unit, *y_label, *y_unit, *layout;
  int x_decimals, y_decimals;
  int bit;
  bool inverted;
};

struct word { /* how a dialect writes a choice */
  const char *name, *word, *written;
};

struct column { /* of a dialect's log; unit "": as it is */
  const char *channel, *heading, *unit;
  int decimals;
};

struct tune {
  FILE *out;
  const struct vocabulary *vocabulary;
  const struct settings *settings;
  const struct row *rows;
  size_t row_count;
  const struct word *words;
  size_t word_count;
  char point; /* decimal sign */
};

struct log_table { /* a plain CSV log: texts of the cells */
  struct arena *arena;
  size_t column_count, row_count;
  struct slice *headings; /* without their units */
  const struct unit **units;
  struct slice *cells;
};

#define BAROMETER 97600.0 /* Pa, as the example's log has it */
#define STOICHIOMETRIC 14.6

/* The value of a setting; ends the program when the settings do not hold it. */
const struct value *tune_value(const struct tune *tune, const char *name);
/* A base value in a dialect's unit. Besides Keyway's units: "AFR", "% over 100", "kPa gauge". */
double unit_number(double base, const char *unit);
/* With a fixed number of decimals and the dialect's decimal sign; minus zero is 0. */
void number_out(const struct tune *tune, double number, int decimals);
/* The numbers of an axis or curve between separators. */
void numbers_out(const struct tune *tune, const double *at, size_t count, const char *unit, int decimals,
                 const char *separator);
/* The dialect's word for a choice. */
const char *choice_word(const struct tune *tune, const char *name, struct slice choice);

size_t log_column(const struct log_table *log, const char *channel);
/* A cell in the unit of a column; false: it is empty. */
bool log_number(const struct log_table *log, size_t row, const struct column *column, double *out);

struct dialect {
  const char *name;
  char point;
  const struct row *rows;
  size_t row_count;
  const struct word *words;
  size_t word_count;
  void (*settings)(const struct tune *tune);
  void (*log)(FILE *out, const struct log_table *log); /* NULL: its logs are as Keyway's own */
  enum { BYTES_UTF8, BYTES_LATIN1, BYTES_UTF16 } bytes;
  bool crlf;
};
extern const struct dialect dialect_tern, dialect_wagtail, dialect_dipper, dialect_curlew;

#endif
