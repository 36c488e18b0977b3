/* Private to text/. What the readers of shapes share: steps (the parts of paths) and records are collected as they
 * come; flat_finish numbers the repeated steps and spells the paths. */
#ifndef KEYWAY_TEXT_FLAT_H
#define KEYWAY_TEXT_FLAT_H

#include "text/record.h"

struct flat_step {
  struct slice name;
  struct slice path; /* spelled by flat_finish when a record needs it */
  uint32_t parent;   /* id of a step made earlier; 0: none */
  uint32_t number;   /* among the parent's steps of this name, from 1 */
  size_t length;     /* bytes of the path, numbers left out */
  bool needed;
};

struct flat_record {
  struct slice tail; /* last part of the path, no step of its own; size 0: none */
  struct slice text;
  struct place place;
  uint32_t step;
};

struct flat {
  struct arena *arena;   /* the caller's, for what stays */
  struct arena *scratch; /* goes when reading ends */
  const struct source *source;
  const struct record_style *style;
  struct problems *problems;
  struct flat_step *steps; /* id i at [i - 1] */
  size_t step_count, step_capacity;
  struct flat_record *records;
  size_t record_count, record_capacity;
  uint64_t path_bytes;
};

struct place flat_place(const struct flat *flat, size_t from, size_t to);

/* A new step below `parent`; its name must stay. 0 when refused (problem added at `place`). */
uint32_t flat_step(struct flat *flat, uint32_t parent, struct slice name, struct place place);

/* A record below `step` (0: at the root); `text` is trimmed and must stay. An empty text gives no record, and true. */
bool flat_record(struct flat *flat, uint32_t step, struct slice tail, struct slice text, struct place place);

/* The record list, in the order of places. */
void flat_finish(struct flat *flat, struct record_list *out);

/* The digits of a number, in the scratch arena. */
struct slice flat_number(struct flat *flat, size_t number);

/* Blanks, tabs, line ends, form feeds: all but control characters that nobody types. */
bool flat_is_blank(char c);
struct slice flat_trim(struct slice text);

/* The readers of shapes. */
bool lines_read(struct flat *flat);
bool sheet_read(struct flat *flat);
bool xml_read(struct flat *flat);
bool tree_read(struct flat *flat);

/* For lines and sheet: the line at `at`, without its end (LF, CRLF or CR), in *line; the first byte after it. */
size_t flat_line(struct slice bytes, size_t at, struct slice *line);
/* Whether the line is a comment. A table's delimiter starts none: there ";500;1000" is a row with an empty name. */
bool flat_is_comment(const struct flat *flat, struct slice line);

#endif
