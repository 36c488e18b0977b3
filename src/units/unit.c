/* The table of units and what needs nothing but the table: finding, converting, comparing. Composed units are in
 * compose.c, numbers with units in quantity.c, the odd ways of typing in spelling.c. */
#include "units/unit.h"

#include "units/spelling.h"

struct row {
  struct unit unit;
  const char *also;
};

#define UNIT(name, ucum, dimension, sense, factor, offset, also) \
  {{(name), (ucum), dimension, (sense), (factor), (offset)}, (also)},
static const struct row rows[] = {
#include "units/unit.def"
};
#undef UNIT

#define ROW_COUNT (sizeof rows / sizeof *rows)

size_t unit_count(void)
{
  return ROW_COUNT;
}

const struct unit *unit_at(size_t index)
{
  return index < ROW_COUNT ? &rows[index].unit : NULL;
}

/* Nearly every text is a name, letter by letter. */
static const struct unit *find_exactly(struct slice name)
{
  for (size_t i = 0; i < ROW_COUNT; i++) {
    const char *own = rows[i].unit.name;
    /* Not strncmp: a name with a NUL byte in it would be compared as far as that only. */
    if (name.size > 0 && name.at[0] == own[0] && strlen(own) == name.size && memcmp(own, name.at, name.size) == 0)
      return &rows[i].unit;
  }
  return NULL;
}

/* Or one but for blanks and the like. */
static const struct unit *find_name(struct slice spelled)
{
  for (size_t i = 0; i < ROW_COUNT; i++) {
    const char *name = rows[i].unit.name;
    if (spelled.size > 0 && spelled.at[0] == name[0] && spelling_match(spelled, name) == SPELLED_SO)
      return &rows[i].unit;
  }
  return NULL;
}

/* Every product is looked for in vain before it is taken apart; few rows are one. */
static bool has_ratio(const struct row *row)
{
  return strchr(row->unit.name, '/') != NULL || strchr(row->also, '/') != NULL ||
         (row->unit.ucum != NULL && strchr(row->unit.ucum, '/') != NULL);
}

/* Then any other spelling, then a UCUM code (K is a unit and the code of a difference), then one row in other case. */
const struct unit *unit_find(struct slice name)
{
  const struct unit *exact = find_exactly(name);
  if (exact != NULL)
    return exact;
  struct spelling folded = spelling_fold(name);
  struct slice spelled = spelling_slice(&folded);
  const struct unit *unit = find_name(spelled), *by_code = NULL, *by_case = NULL;
  size_t case_count = 0;
  bool ratio = spelled.size > 0 && memchr(spelled.at, '/', spelled.size) != NULL;
  for (size_t i = 0; i < ROW_COUNT && unit == NULL; i++) {
    const struct unit *row = &rows[i].unit;
    if (ratio && !has_ratio(&rows[i]))
      continue;
    enum spelling_match match = spelling_match(spelled, rows[i].also);
    if (match == SPELLED_SO)
      unit = row;
    if (by_code == NULL && row->ucum != NULL && spelling_match(spelled, row->ucum) == SPELLED_SO)
      by_code = row;
    if (match == SPELLED_IN_OTHER_CASE || spelling_match(spelled, row->name) == SPELLED_IN_OTHER_CASE) {
      by_case = row;
      case_count++;
    }
  }
  if (unit != NULL || by_code != NULL)
    return unit != NULL ? unit : by_code;
  return case_count == 1 ? by_case : NULL;
}

const struct unit *unit_nearest(struct slice name)
{
  struct spelling folded = spelling_fold(name);
  struct slice spelled = spelling_slice(&folded);
  size_t most = spelled.size < 2 ? 0 : spelled.size < 6 ? 1 : spelled.size / 3, best = most + 1;
  const struct unit *found = NULL;
  for (size_t i = 0; i < ROW_COUNT && spelled.size > 0; i++) {
    size_t by_name = spelling_distance(spelled, rows[i].unit.name, most);
    size_t by_other = spelling_distance(spelled, rows[i].also, most);
    size_t distance = by_name < by_other ? by_name : by_other;
    if (distance < best) {
      best = distance;
      found = &rows[i].unit;
    }
  }
  return found;
}

double unit_to_base(const struct unit *unit, double value)
{
  return value * unit->factor + unit->offset;
}

double unit_from_base(const struct unit *unit, double base)
{
  return (base - unit->offset) / unit->factor;
}

bool unit_agrees(const struct unit *a, const struct unit *b)
{
  if (!dimension_equal(a->dimension, b->dimension))
    return false;
  if (a->sense == b->sense)
    return true;
  return (a->sense == SENSE_EITHER && b->sense != SENSE_PLAIN) || (b->sense == SENSE_EITHER && a->sense != SENSE_PLAIN);
}

const struct unit *unit_difference(const struct unit *unit)
{
  if (unit->sense != SENSE_POINT)
    return unit;
  return unit_find(slice_of(unit->factor == 1.0 ? "degC_diff" : "degF_diff"));
}

static bool measures(const struct unit *unit, const char *like)
{
  return dimension_equal(unit->dimension, unit_find(slice_of(like))->dimension);
}

const char *unit_mismatch_hint(struct arena *arena, const struct unit *got, const struct unit *wanted)
{
  if (measures(got, "lb/h") && measures(wanted, "cm3/min"))
    return "a mass flow needs the fuel's density to become a volume flow: at 0.745 kg/L, 1 lb/h is 10.15 cm3/min; "
           "convert it by hand and say which density";
  if (measures(got, "cm3/min") && measures(wanted, "lb/h"))
    return "a volume flow needs the fuel's density to become a mass flow: at 0.745 kg/L, 10.15 cm3/min is 1 lb/h; "
           "convert it by hand and say which density";
  if (got->sense == SENSE_POINT && wanted->sense == SENSE_DIFFERENCE)
    return arena_print(arena, "%s is a temperature; for a temperature difference write %s or K", got->name,
                       unit_difference(got)->name);
  if (got->sense == SENSE_DIFFERENCE && wanted->sense == SENSE_POINT)
    return arena_print(arena, "%s is a temperature difference; for a temperature write %s", got->name, wanted->name);
  if (dimension_is_none(got->dimension) && measures(wanted, "lambda"))
    return "an air-fuel ratio divided by the stoichiometric ratio of the fuel is lambda";
  if (measures(got, "Hz") && measures(wanted, "rpm"))
    return "1 Hz is 60 rpm only where one period is one revolution: convert it by hand";
  if (measures(got, "rpm") && measures(wanted, "Hz"))
    return "60 rpm is 1 Hz only where one revolution is one period: convert it by hand";
  if ((measures(got, "deg") && measures(wanted, "ms")) || (measures(got, "ms") && measures(wanted, "deg")))
    return "crank angle and time become each other only at a stated engine speed: at 1000 rpm, 6 deg take 1 ms";
  return NULL;
}
