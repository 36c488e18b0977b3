/* From steps and records to paths. Reading order: flat_step and flat_record, which only collect and count, then
 * flat_finish: number_steps finds repeated steps by sorting (a table of hashes could be flooded), spell_steps and
 * spell_record join the names. Steps are made before what lies below them, so one pass in their order spells them. */
#include "text/flat.h"

#include "base/limits.h"

#include <stdlib.h>

struct place flat_place(const struct flat *flat, size_t from, size_t to)
{
  return (struct place){flat->source->id, from, to};
}

static bool count_path(struct flat *flat, size_t length, struct place place)
{
  if (length > LIMIT_RECORD_BYTES)
    return problems_add(flat->problems, place, "the path to this value is %zu bytes long; at most %u are accepted",
                        length, LIMIT_RECORD_BYTES);
  flat->path_bytes += length;
  if (flat->path_bytes > LIMIT_RECORD_PATHS)
    return problems_add(flat->problems, place, "the paths of the file's values are over %u MB together",
                        LIMIT_RECORD_PATHS / (1024 * 1024));
  return true;
}

uint32_t flat_step(struct flat *flat, uint32_t parent, struct slice name, struct place place)
{
  size_t length = name.size + (parent == 0 ? 0 : flat->steps[parent - 1].length + 1);
  if (flat->step_count == LIMIT_RECORDS) {
    problems_add(flat->problems, place, "the file holds more than %d rows or elements", LIMIT_RECORDS);
    return 0;
  }
  if (!count_path(flat, length, place))
    return 0;
  flat->steps = arena_grow(flat->scratch, flat->steps, flat->step_count, &flat->step_capacity, sizeof *flat->steps);
  flat->steps[flat->step_count++] = (struct flat_step){.name = name, .parent = parent, .number = 1, .length = length};
  return (uint32_t)flat->step_count;
}

bool flat_record(struct flat *flat, uint32_t step, struct slice tail, struct slice text, struct place place)
{
  if (text.size == 0)
    return true;
  if (text.size > LIMIT_RECORD_BYTES)
    return problems_add(flat->problems, place, "this text is %zu bytes long; at most %u are accepted", text.size,
                        LIMIT_RECORD_BYTES);
  if (flat->record_count == LIMIT_RECORDS)
    return problems_add(flat->problems, place, "the file holds more than %d values", LIMIT_RECORDS);
  size_t length = step == 0 ? 0 : flat->steps[step - 1].length;
  if (tail.size > 0 && !count_path(flat, length + 1 + tail.size, place))
    return false;
  flat->records =
      arena_grow(flat->scratch, flat->records, flat->record_count, &flat->record_capacity, sizeof *flat->records);
  flat->records[flat->record_count++] = (struct flat_record){tail, text, place, step};
  return true;
}

struct rank {
  struct slice name;
  uint64_t hash; /* spares most comparisons of names */
  uint32_t parent, id;
};

static int rank_compare(const void *a, const void *b)
{
  const struct rank *x = a, *y = b;
  if (x->parent != y->parent)
    return x->parent < y->parent ? -1 : 1;
  if (x->hash != y->hash)
    return x->hash < y->hash ? -1 : 1;
  int order = slice_compare(x->name, y->name);
  return order != 0 ? order : (x->id > y->id) - (x->id < y->id);
}

/* FNV-1a, 64 bits. */
static uint64_t hash_of(struct slice name)
{
  uint64_t hash = 0xcbf29ce484222325u;
  for (size_t i = 0; i < name.size; i++)
    hash = (hash ^ (unsigned char)name.at[i]) * 0x100000001b3u;
  return hash;
}

static void number_steps(struct flat *flat)
{
  struct rank *ranks = ARENA_ARRAY(flat->scratch, flat->step_count, struct rank);
  for (size_t i = 0; i < flat->step_count; i++) {
    const struct flat_step *step = &flat->steps[i];
    ranks[i] = (struct rank){step->name, hash_of(step->name), step->parent, (uint32_t)i};
  }
  qsort(ranks, flat->step_count, sizeof *ranks, rank_compare);
  for (size_t i = 1; i < flat->step_count; i++) {
    const struct rank *before = &ranks[i - 1];
    if (before->parent == ranks[i].parent && before->hash == ranks[i].hash && slice_equal(before->name, ranks[i].name))
      flat->steps[ranks[i].id].number = flat->steps[before->id].number + 1;
  }
}

static char *put(char *to, struct slice text)
{
  if (text.size > 0)
    memcpy(to, text.at, text.size);
  return to + text.size;
}

static struct slice join(struct arena *arena, bool below, struct slice path, struct slice name, struct slice mark)
{
  char *text = arena_alloc(arena, path.size + 1 + name.size + mark.size);
  char *at = put(text, path);
  if (below)
    *at++ = '/';
  at = put(put(at, name), mark);
  return (struct slice){text, (size_t)(at - text)};
}

struct slice flat_number(struct flat *flat, size_t number)
{
  char digits[24];
  size_t from = sizeof digits;
  do {
    digits[--from] = (char)('0' + number % 10);
    number /= 10;
  } while (number > 0);
  return arena_slice(flat->scratch, (struct slice){digits + from, sizeof digits - from});
}

static void spell_steps(struct flat *flat)
{
  for (size_t i = 0; i < flat->record_count; i++) {
    for (uint32_t id = flat->records[i].step; id != 0 && !flat->steps[id - 1].needed; id = flat->steps[id - 1].parent)
      flat->steps[id - 1].needed = true;
  }
  for (size_t i = 0; i < flat->step_count; i++) {
    struct flat_step *step = &flat->steps[i];
    if (!step->needed)
      continue;
    bool below = step->parent != 0;
    struct slice path = below ? flat->steps[step->parent - 1].path : (struct slice){"", 0};
    struct slice mark = {"", 0};
    if (step->number > 1)
      mark = join(flat->scratch, false, (struct slice){"#", 1}, flat_number(flat, step->number), mark);
    step->path = join(flat->arena, below, path, step->name, mark);
  }
}

static struct slice spell_record(const struct flat *flat, const struct flat_record *record)
{
  struct slice path = record->step == 0 ? (struct slice){"", 0} : flat->steps[record->step - 1].path;
  if (record->tail.size == 0)
    return path;
  return join(flat->arena, record->step != 0, path, record->tail, (struct slice){"", 0});
}

static int place_compare(const void *a, const void *b)
{
  const struct record_line *x = a, *y = b;
  if (x->place.start != y->place.start)
    return x->place.start < y->place.start ? -1 : 1;
  return (x->place.end > y->place.end) - (x->place.end < y->place.end);
}

void flat_finish(struct flat *flat, struct record_list *out)
{
  number_steps(flat);
  spell_steps(flat);
  struct record_line *lines = ARENA_ARRAY(flat->arena, flat->record_count, struct record_line);
  bool in_order = true;
  for (size_t i = 0; i < flat->record_count; i++) {
    const struct flat_record *record = &flat->records[i];
    lines[i] = (struct record_line){spell_record(flat, record), record->text, record->place};
    in_order = in_order && (i == 0 || lines[i - 1].place.start <= lines[i].place.start);
  }
  /* An element's text is complete only after the elements inside it. No two records share a place. */
  if (!in_order)
    qsort(lines, flat->record_count, sizeof *lines, place_compare);
  *out = (struct record_list){flat->record_count, lines};
}

bool flat_is_blank(char c)
{
  return c == ' ' || (c >= '\t' && c <= '\r');
}

struct slice flat_trim(struct slice text)
{
  while (text.size > 0 && flat_is_blank(text.at[0]))
    text = slice_part(text, 1, text.size);
  while (text.size > 0 && flat_is_blank(text.at[text.size - 1]))
    text.size--;
  return text;
}

size_t flat_line(struct slice bytes, size_t at, struct slice *line)
{
  size_t to = at;
  while (to < bytes.size && bytes.at[to] != '\n' && bytes.at[to] != '\r')
    to++;
  *line = slice_part(bytes, at, to);
  if (to + 1 < bytes.size && bytes.at[to] == '\r' && bytes.at[to + 1] == '\n')
    return to + 2;
  return to < bytes.size ? to + 1 : to;
}

bool flat_is_comment(const struct flat *flat, struct slice line)
{
  const struct record_style *style = flat->style;
  line = flat_trim(line);
  for (size_t i = 0; i < style->comment_count; i++) {
    struct slice mark = style->comments[i];
    bool delimiter = style->shape == SHAPE_TABLE && mark.size == 1 && mark.at[0] == style->delimiter;
    if (mark.size > 0 && !delimiter && line.size >= mark.size && memcmp(line.at, mark.at, mark.size) == 0)
      return true;
  }
  return false;
}
