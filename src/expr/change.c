/* What differs between the file and the file as it was before, and what does not: the collections changes() and
 * unchanged(), and the texts and dates that go with them. */
#include "expr/builtin.h"
#include "expr/run.h"

#include <float.h>
#include <math.h>

struct difference {
  size_t cells;       /* how many numbers differ */
  struct place place; /* of the first one, in the file as it is now */
  double from, to;    /* of the one that differs most */
  const struct unit *unit;
  const char *words; /* instead of numbers: "reshaped", "off to on" */
};

static bool same_number(double a, double b)
{
  return fabs(a - b) <= 16 * DBL_EPSILON * (fabs(a) + fabs(b));
}

static void compare_numbers(const double *was, const double *is, const struct place *place, size_t count,
                            const struct unit *unit, struct difference *out)
{
  double most = -1;
  for (size_t i = 0; i < count; i++) {
    if (same_number(was[i], is[i]))
      continue;
    if (out->cells++ == 0)
      out->place = place[i];
    if (fabs(is[i] - was[i]) > most) {
      most = fabs(is[i] - was[i]);
      out->from = was[i];
      out->to = is[i];
      out->unit = unit;
    }
  }
}

static bool same_axis(const struct axis *a, const struct axis *b)
{
  if (a->count != b->count)
    return false;
  for (size_t i = 0; i < a->count; i++) {
    if (!same_number(a->at[i], b->at[i]))
      return false;
  }
  return true;
}

static bool same_pins(const struct pins *a, const struct pins *b)
{
  if (a->count != b->count)
    return false;
  for (size_t i = 0; i < a->count; i++) {
    size_t k = 0;
    while (k < b->count && !(run_same_text(a->items[i].function, b->items[k].function) &&
                             run_same_text(a->items[i].pin, b->items[k].pin)))
      k++;
    if (k == b->count)
      return false;
  }
  return true;
}

static void compare_values(struct arena *arena, const struct value *was, const struct value *is, struct difference *out)
{
  out->place = is->place;
  switch (is->kind) {
  case VALUE_NUMBER:
    compare_numbers(&was->as.number.value, &is->as.number.value, &is->place, 1, is->as.number.unit, out);
    return;
  case VALUE_SWITCH:
    if (was->as.on != is->as.on)
      out->words = is->as.on ? "from off to on" : "from on to off";
    return;
  case VALUE_CHOICE:
  case VALUE_TEXT:
    if (!slice_equal(was->as.text, is->as.text))
      out->words = arena_print(arena, "from '%.*s' to '%.*s'", SLICE_ARG(was->as.text), SLICE_ARG(is->as.text));
    return;
  case VALUE_LIST:
    if (was->as.list.count != is->as.list.count)
      out->words = "has another number of items";
    else
      compare_numbers(was->as.list.items, is->as.list.items, is->as.list.places, is->as.list.count, is->as.list.unit,
                      out);
    return;
  case VALUE_CURVE:
    if (!same_axis(&was->as.curve.x, &is->as.curve.x))
      out->words = "has another axis";
    else
      compare_numbers(was->as.curve.value, is->as.curve.value, is->as.curve.place, is->as.curve.x.count,
                      is->as.curve.unit, out);
    return;
  case VALUE_TABLE:
    if (!same_axis(&was->as.table.x, &is->as.table.x) || !same_axis(&was->as.table.y, &is->as.table.y))
      out->words = "has other axes";
    else
      compare_numbers(was->as.table.value, is->as.table.value, is->as.table.place,
                      is->as.table.x.count * is->as.table.y.count, is->as.table.unit, out);
    return;
  case VALUE_PINS:
    if (!same_pins(&was->as.pins, &is->as.pins))
      out->words = "has other pins";
    return;
  case VALUE_RECORDS:
  case VALUE_SERIES:
    break;
  }
}

static const char *say(struct arena *arena, const struct difference *difference)
{
  if (difference->words)
    return difference->words;
  const char *from = quantity_print(arena, (struct quantity){difference->from, difference->unit}, NULL, 0);
  const char *to = quantity_print(arena, (struct quantity){difference->to, difference->unit}, NULL, 0);
  if (difference->cells == 1)
    return arena_print(arena, "from %s to %s", from, to);
  return arena_print(arena, "%zu numbers, most from %s to %s", difference->cells, from, to);
}

/* What a setting that did not change still is. */
static struct difference sameness(struct arena *arena, const struct value *is)
{
  struct difference same = {.place = is->place, .words = "is the same"};
  switch (is->kind) {
  case VALUE_NUMBER:
    same.cells = 1;
    same.words = arena_print(arena, "is still %s", quantity_print(arena, is->as.number, NULL, 0));
    return same;
  case VALUE_SWITCH:
    same.words = is->as.on ? "is still on" : "is still off";
    return same;
  case VALUE_CHOICE:
  case VALUE_TEXT:
    same.words = arena_print(arena, "is still '%.*s'", SLICE_ARG(is->as.text));
    return same;
  case VALUE_LIST:
    same.cells = is->as.list.count;
    break;
  case VALUE_CURVE:
    same.cells = is->as.curve.x.count;
    break;
  case VALUE_TABLE:
    same.cells = is->as.table.x.count * is->as.table.y.count;
    break;
  case VALUE_PINS:
  case VALUE_RECORDS:
  case VALUE_SERIES:
    return same;
  }
  same.words = arena_print(arena, "has the same %zu numbers", same.cells);
  return same;
}

static void add_item(struct evaluation *evaluation, const struct item_shape *shape, struct item *item,
                     const struct name *name, const struct difference *difference)
{
  struct result *fields = ARENA_ARRAY(evaluation->arena, 3, struct result);
  struct place *place = ARENA_NEW(evaluation->arena, struct place);
  *place = difference->place;
  fields[0] = run_text(name->full);
  fields[1] = run_text(slice_of(say(evaluation->arena, difference)));
  fields[2] = run_number((double)difference->cells, 0, NULL);
  *item = (struct item){.shape = shape, .field_count = 3, .fields = fields, .place_count = 1, .places = place};
}

/* The settings that changed, or those that both files have and that did not. */
static struct result compare_files(struct evaluation *evaluation, const struct expr *call, bool changed)
{
  const struct value *const *now = evaluation->inputs->values[NAME_TUNE], *const *before =
                                                                              evaluation->inputs->values[NAME_BEFORE];
  const struct names *names = evaluation->inputs->names;
  if (!before)
    return run_unknown(evaluation, "the settings file as it was before");
  struct item *items = ARENA_ARRAY(evaluation->arena, names->count, struct item);
  size_t count = 0;
  for (size_t i = 0; i < names->count; i++) {
    const struct name *name = &names->items[i];
    if (name->scope != NAME_TUNE)
      continue;
    const struct value *is = now[name->index], *was = before[name->index];
    struct difference difference = {0};
    if (is && was)
      compare_values(evaluation->arena, was, is, &difference);
    else if (is || was)
      difference = (struct difference){.place = is ? is->place : was->place, .words = is ? "is new" : "is gone"};
    bool differs = difference.words || difference.cells > 0;
    if (!changed && is && was && !differs)
      difference = sameness(evaluation->arena, is);
    if (changed ? differs : is && was && !differs)
      add_item(evaluation, call->type.item, &items[count++], name, &difference);
  }
  struct collection *collection = ARENA_NEW(evaluation->arena, struct collection);
  *collection = (struct collection){count, items};
  return (struct result){.known = true, .collection = collection};
}

struct result builtin_changes(struct evaluation *evaluation, const struct expr *call)
{
  return compare_files(evaluation, call, true);
}
struct result builtin_unchanged(struct evaluation *evaluation, const struct expr *call)
{
  return compare_files(evaluation, call, false);
}

/* "tune.fuel.x" and "fuel.x" are one setting to a person. */
static struct slice bare_name(struct slice name)
{
  const struct slice scope = slice_of("tune.");
  bool scoped = name.size > scope.size && run_same_text(slice_part(name, 0, scope.size), scope);
  return scoped ? slice_part(name, scope.size, name.size) : name;
}

struct result builtin_listed(struct evaluation *evaluation, const struct expr *call)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  struct slice text = pair[0].text, name = bare_name(pair[1].text);
  for (size_t from = 0; from < text.size;) {
    size_t to = from;
    while (to < text.size && strchr(" ,;\n\t", text.at[to]) == NULL)
      to++;
    struct slice word = bare_name(slice_part(text, from, to));
    if (word.size > 0 && word.size <= name.size && run_same_text(word, slice_part(name, 0, word.size)))
      return run_condition(true);
    from = to + 1;
  }
  return run_condition(false);
}

/* `count` digits at *at, which moves on; -1 when there are not so many. */
static int digits(struct slice text, size_t *at, int count)
{
  int value = 0;
  for (int i = 0; i < count; i++, (*at)++) {
    if (*at >= text.size || text.at[*at] < '0' || text.at[*at] > '9')
      return -1;
    value = value * 10 + (text.at[*at] - '0');
  }
  return value;
}

static bool sign(struct slice text, size_t *at, char wanted)
{
  if (*at >= text.size || text.at[*at] != wanted)
    return false;
  (*at)++;
  return true;
}

/* Days from 1970-01-01 in the Gregorian calendar: years counted from March, so that the leap day ends them. */
static long days_of(int year, int month, int day)
{
  long y = month <= 2 ? year - 1 : year, m = month <= 2 ? month + 9 : month - 3;
  return 365 * y + y / 4 - y / 100 + y / 400 + (153 * m + 2) / 5 + day - 1 - 719468;
}

/* "Z", "+01:00", "-0530" to minutes east; false when there is none. */
static bool offset_of(struct slice text, size_t *at, int *minutes)
{
  *minutes = 0;
  if (sign(text, at, 'Z'))
    return true;
  bool west = *at < text.size && text.at[*at] == '-';
  if (!west && !(*at < text.size && text.at[*at] == '+'))
    return false;
  (*at)++;
  int hours = digits(text, at, 2);
  sign(text, at, ':');
  int rest = digits(text, at, 2);
  if (hours < 0 || hours > 14 || rest < 0 || rest > 59)
    return false;
  *minutes = (west ? -1 : 1) * (hours * 60 + rest);
  return true;
}

/* ISO 8601: 2026-03-02T17:40:00Z; seconds may be left out or have a fraction. */
static bool date_read(struct slice text, double *out)
{
  static const int month_days[] = {31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  size_t at = 0;
  int year = digits(text, &at, 4), month = sign(text, &at, '-') ? digits(text, &at, 2) : -1,
      day = sign(text, &at, '-') ? digits(text, &at, 2) : -1;
  if (year < 1970 || month < 1 || month > 12 || day < 1 || day > month_days[month - 1])
    return false;
  if (!sign(text, &at, 'T') && !sign(text, &at, ' '))
    return false;
  int hour = digits(text, &at, 2), minute = sign(text, &at, ':') ? digits(text, &at, 2) : -1,
      second = sign(text, &at, ':') ? digits(text, &at, 2) : 0;
  if (sign(text, &at, '.')) {
    while (at < text.size && text.at[at] >= '0' && text.at[at] <= '9')
      at++;
  }
  int east;
  if (hour < 0 || hour > 24 || minute < 0 || minute > 59 || second < 0 || second > 60 || !offset_of(text, &at, &east) ||
      at != text.size)
    return false;
  *out = (double)days_of(year, month, day) * 86400 + hour * 3600 + (minute - east) * 60 + second;
  return true;
}

struct result builtin_date(struct evaluation *evaluation, const struct expr *call)
{
  struct result text = evaluate(evaluation, call->args[0]);
  double seconds = 0;
  if (!text.known)
    return text;
  if (date_read(slice_trim(text.text), &seconds))
    return run_number(seconds, 0, unit_find(slice_of("s")));
  const struct name *name = expr_first_name(call->args[0]);
  return run_unknown(evaluation,
                     arena_print(evaluation->arena, "a date with an offset such as 2026-03-02T17:40:00Z in %.*s",
                                 SLICE_ARG(name ? name->full : slice_of("the text"))));
}
