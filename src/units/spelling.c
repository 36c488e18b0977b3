/* One spelling for the many ways in which a unit is typed. Reading order: spelling_fold with its table of signs, then
 * the comparisons with a row's list, then the words that are refused with the way out. */
#include "units/spelling.h"

#include "units/unit.h"

struct sign {
  const char *typed, *plain;
};

/* Longer sequences first where one begins another. */
static const struct sign signs[] = {
    {"\xC2\xB0", "deg"},      /* degree sign */
    {"\xC2\xBA", "deg"},      /* masculine ordinal, on many keyboards the nearest thing */
    {"\xCB\x9A", "deg"},      /* ring above */
    {"\xE2\x84\x83", "degC"}, /* degree Celsius as one character */
    {"\xE2\x84\x89", "degF"}, /* degree Fahrenheit as one character */
    {"\xC2\xB5", "u"},        /* micro sign */
    {"\xCE\xBC", "u"},        /* Greek mu */
    {"\xCE\xA9", "Ohm"},      /* Greek omega */
    {"\xE2\x84\xA6", "Ohm"},  /* ohm sign */
    {"\xCE\xBB", "lambda"},   /* Greek lambda */
    {"\xC2\xB9", "1"},        /* raised 1, 2, 3 and minus */
    {"\xC2\xB2", "2"},
    {"\xC2\xB3", "3"},
    {"\xE2\x81\xBB", "-"},
    {"\xE2\x88\x92", "-"}, /* minus sign */
    {"\xC2\xB7", "."},
    {"\xE2\x8B\x85", "."},
    {"\xC3\x97", "."}, /* raised dots, times */
    {"\xC2\xA0", ""},
    {"\xE2\x80\x89", ""},
    {"\xE2\x80\xAF", ""}, /* blanks that do not break */
    {"\xB0", "deg"},
    {"\xBA", "deg"},
    {"\xB5", "u"}, /* ISO 8859-1 */
    {"\xB9", "1"},
    {"\xB2", "2"},
    {"\xB3", "3"},
    {"\xB7", "."},
    {"\xD7", "."},
    {"\xA0", ""},
    {" ", ""},
    {"\t", ""},
    {"_", ""},
    {"^", ""},
    {"*", "."},
};

static char lower(char c)
{
  return (char)(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
}

static const struct sign *sign_at(struct slice text)
{
  char first = lower(text.at[0]);
  if ((first >= 'a' && first <= 'z') || (first >= '0' && first <= '9'))
    return NULL;
  for (size_t i = 0; i < sizeof signs / sizeof *signs; i++) {
    size_t size = strlen(signs[i].typed);
    if (size <= text.size && memcmp(text.at, signs[i].typed, size) == 0)
      return &signs[i];
  }
  return NULL;
}

/* "5 kPa 3" is a slip of the pen, not a cubed pressure: a blank between a name and a figure stays, and is no unit. */
static bool blank_parts(const struct spelling *before, struct slice text)
{
  struct slice after = slice_trim(text);
  if (after.size == text.size || before->size == 0 || strchr("/.(", before->at[before->size - 1]) != NULL)
    return false;
  if (after.size > 1 && (after.at[0] == '-' || after.at[0] == '+'))
    after = slice_part(after, 1, after.size);
  return after.size > 0 && after.at[0] >= '0' && after.at[0] <= '9';
}

struct spelling spelling_fold(struct slice text)
{
  struct spelling out = {.size = 0};
  text = slice_trim(text);
  while (text.size > 0) {
    const struct sign *sign = blank_parts(&out, text) ? NULL : sign_at(text);
    struct slice plain = sign != NULL ? slice_of(sign->plain) : slice_part(text, 0, 1);
    if (plain.size > SPELLING_SIZE - out.size)
      return (struct spelling){.size = 0};
    if (plain.size > 0)
      memcpy(out.at + out.size, plain.at, plain.size);
    out.size += plain.size;
    text = slice_part(text, sign != NULL ? strlen(sign->typed) : 1, text.size);
  }
  return out;
}

struct slice spelling_slice(const struct spelling *spelling)
{
  return (struct slice){spelling->at, spelling->size};
}

static enum spelling_match match_one(struct slice spelled, struct slice row)
{
  enum spelling_match match = SPELLED_SO;
  size_t i = 0;
  for (size_t j = 0; j < row.size; j++) {
    if (row.at[j] == '_')
      continue;
    if (i == spelled.size)
      return SPELLED_OTHERWISE;
    char a = spelled.at[i++], b = row.at[j];
    if (a == b)
      continue;
    if (lower(a) != lower(b))
      return SPELLED_OTHERWISE;
    match = SPELLED_IN_OTHER_CASE;
  }
  return i == spelled.size && i > 0 ? match : SPELLED_OTHERWISE;
}

/* The next spelling of a list; empty at its end. By hand: this is most of the work of finding a unit. */
static struct slice next_spelling(const char **also)
{
  const char *from = *also;
  while (*from == ' ')
    from++;
  const char *to = from;
  while (*to != ' ' && *to != '\0')
    to++;
  *also = to;
  return (struct slice){from, (size_t)(to - from)};
}

/* "mPa" is not MPa and "Ms" is not ms: where a leading m or M may be a prefix, another case is taken only from text
 * that is all capitals or all small, which shows that its writer did not tell the two apart. */
static bool prefix_is_safe(struct slice spelled, struct slice row)
{
  static const char prefixed[] = "V A Pa J H s m g L l Ohm W bar";
  if (lower(row.at[0]) != 'm' || spelled.at[0] == row.at[0])
    return true;
  const char *rest = prefixed;
  struct slice s = next_spelling(&rest);
  while (s.size > 0 && !slice_equal(s, slice_part(row, 1, row.size)))
    s = next_spelling(&rest);
  bool capital = false, small = false;
  for (size_t i = 0; i < spelled.size; i++) {
    capital = capital || (spelled.at[i] >= 'A' && spelled.at[i] <= 'Z');
    small = small || (spelled.at[i] >= 'a' && spelled.at[i] <= 'z');
  }
  return s.size == 0 || !(capital && small);
}

enum spelling_match spelling_match(struct slice spelled, const char *also)
{
  enum spelling_match best = SPELLED_OTHERWISE;
  /* One capital that is no unit (G, M, R) says too little. */
  bool lone_capital = spelled.size == 1 && spelled.at[0] >= 'A' && spelled.at[0] <= 'Z';
  for (struct slice s = next_spelling(&also); s.size > 0; s = next_spelling(&also)) {
    if (spelled.size == 0 || lower(spelled.at[0]) != lower(s.at[0]))
      continue;
    enum spelling_match match = match_one(spelled, s);
    if (match == SPELLED_SO)
      return match;
    if (match == SPELLED_IN_OTHER_CASE && !lone_capital && prefix_is_safe(spelled, s))
      best = match;
  }
  return best;
}

size_t spelling_distance(struct slice spelled, const char *also, size_t most)
{
  size_t best = most + 1;
  for (struct slice s = next_spelling(&also); s.size > 0; s = next_spelling(&also)) {
    if (s.size > spelled.size + most || spelled.size > s.size + most)
      continue;
    /* One edit leaves the first or the last letter alone; most spellings end here. */
    if (most <= 1 && lower(s.at[0]) != lower(spelled.at[0]) &&
        lower(s.at[s.size - 1]) != lower(spelled.at[spelled.size - 1]))
      continue;
    size_t distance = slice_distance(spelled, s);
    best = distance < best ? distance : best;
  }
  return best;
}

/* Whether `spelled` is a unit of pressure followed by one of `tails`; *unit is that unit. */
static bool pressure_with(struct slice spelled, const char *tails, const struct unit **unit)
{
  const struct unit *pascal = unit_find(slice_of("Pa"));
  for (struct slice s = next_spelling(&tails); s.size > 0; s = next_spelling(&tails)) {
    if (spelled.size <= s.size ||
        match_one(slice_part(spelled, spelled.size - s.size, spelled.size), s) == SPELLED_OTHERWISE)
      continue;
    *unit = unit_find(slice_part(spelled, 0, spelled.size - s.size));
    if (*unit != NULL && dimension_equal((*unit)->dimension, pascal->dimension))
      return true;
  }
  return false;
}

const char *spelling_refusal(struct arena *arena, struct slice spelled, struct slice typed)
{
  static const struct {
    const char *words, *why;
  } refusals[] = {
      {"afr {AFR} airfuel air-fuel airfuelratio a/f gas-afr afrgas",
       "is an air-fuel ratio: divide by the stoichiometric ratio of the fuel to get lambda"},
      {":1 to1",
       "is not a unit: write the number alone; an air-fuel ratio must be divided by the stoichiometric ratio of the "
       "fuel to get lambda"},
      {"phi eqr er fa", "is an equivalence ratio: lambda is 1 divided by it"},
      {"gal gallon gallons gph gpm gal/h gal/hr gal/min",
       "does not say which gallon: 3.785 L is gal_us, 4.546 L is gal_uk"},
      {"atdc degatdc", "counts the other way: spark advance is in degrees before top dead centre, so change the sign "
                       "and write deg"},
  };
  for (size_t i = 0; i < sizeof refusals / sizeof *refusals; i++) {
    if (spelling_match(spelled, refusals[i].words) != SPELLED_OTHERWISE)
      return arena_print(arena, "'%.*s' %s", SLICE_ARG(typed), refusals[i].why);
  }
  const struct unit *unit = NULL;
  if (pressure_with(spelled, "g (g) -g gauge (gauge) gage (gage) boost rel relative", &unit))
    return arena_print(arena,
                       "'%.*s' is a gauge pressure, and pressures here are absolute: add the barometer and write %s "
                       "(an entry that is gauge by its description takes %s as it stands)",
                       SLICE_ARG(typed), unit->name, unit->name);
  if (pressure_with(spelled, "vac vacuum (vac)", &unit))
    return arena_print(arena,
                       "'%.*s' is a vacuum, and pressures here are absolute: subtract it from the barometer and write "
                       "%s",
                       SLICE_ARG(typed), unit->name);
  return NULL;
}
