/* What the tests of text/record.h share: an export in memory, its records as lines "LINE:COLUMN PATH = TEXT", and a
 * check of what no list of records may break. Included by tests only. */
#ifndef KEYWAY_TESTS_RECORDS_H
#define KEYWAY_TESTS_RECORDS_H

#include "reading.h"
#include "text/record.h"

static inline struct source *records_source(struct run *run, struct slice bytes)
{
  return (struct source *)sources_memory(run->sources, "export", bytes);
}

/* Places rise, lie within the source, and no text is empty. */
static inline void records_check(const struct source *source, const struct record_list *list)
{
  size_t wrong = 0;
  for (size_t i = 0; i < list->count; i++) {
    const struct record_line *record = &list->items[i];
    bool placed = record->place.start < record->place.end && record->place.end <= source->bytes.size;
    bool rising = i == 0 || list->items[i - 1].place.start < record->place.start;
    wrong += record->text.size == 0 || !placed || !rising;
  }
  assert_int_equal(wrong, 0);
}

static inline const char *records_spell(struct run *run, const struct record_list *list)
{
  const char *said = "";
  for (size_t i = 0; i < list->count; i++) {
    const struct record_line *record = &list->items[i];
    struct position position;
    assert_true(sources_position(run->sources, record->place, &position));
    said = arena_print(run->arena, "%s%ju:%ju %.*s = %.*s\n", said, (uintmax_t)position.line,
                       (uintmax_t)position.column, SLICE_ARG(record->path), SLICE_ARG(record->text));
  }
  return said;
}

/* Decoded and read; its records, or what is said against it. */
static inline const char *records_of(struct run *run, struct source *source, enum record_encoding encoding,
                                     const struct record_style *style)
{
  struct record_list list;
  if (!record_decode(run->arena, source, encoding, &run->problems) ||
      !record_read(run->arena, source, style, &run->problems, &list)) {
    assert_true(run->problems.count > 0);
    return run_said(run);
  }
  assert_int_equal(run->problems.count, 0);
  records_check(source, &list);
  return records_spell(run, &list);
}

struct records_case {
  enum record_shape shape;
  const char *bytes, *records;
};

static inline void records_compare(const struct records_case *items, size_t count)
{
  assert_true(count > 0);
  for (size_t i = 0; i < count; i++) {
    struct run run = run_new();
    struct record_style style = record_style_usual(run.arena, items[i].shape);
    struct source *source = records_source(&run, slice_of(items[i].bytes));
    assert_string_equal(records_of(&run, source, ENCODING_AUTO, &style), items[i].records);
    run_free(&run);
  }
}

#define RECORDS_COMPARE(items) records_compare((items), sizeof(items) / sizeof *(items))

#endif
