/* Steps of paths: names, and the numbers in them that tell records of one item apart. Reading order: draft_step_split,
 * step_end, step_of; draft_step_key. */
#include "read/draft_parts.h"

#include "base/number.h"

static bool is_digit(char c)
{
  return c >= '0' && c <= '9';
}

static bool is_digits(struct slice text)
{
  for (size_t i = 0; i < text.size; i++) {
    if (!is_digit(text.at[i]))
      return false;
  }
  return text.size > 0;
}

/* "row 3", "r3c5", "row 0 col 15", "3,5": numbers of a cell, and no other words. */
static bool is_cell(struct slice text)
{
  static const char *const words[] = {"row",    "r", "line", "y",    "x",     "col",
                                      "column", "c", "bin",  "cell", "point", "site"};
  size_t numbers = 0, letters = 0;
  for (size_t at = 0; at < text.size;) {
    size_t to = at;
    while (to < text.size && ((text.at[to] >= 'a' && text.at[to] <= 'z') || (text.at[to] >= 'A' && text.at[to] <= 'Z')))
      to++;
    bool known = to == at;
    for (size_t i = 0; !known && i < sizeof words / sizeof *words; i++)
      known = strlen(words[i]) == to - at && slice_distance(slice_part(text, at, to), slice_of(words[i])) == 0;
    if (!known || (unsigned char)text.at[at] >= 0x80)
      return false;
    letters += to > at;
    if (to > at) {
      at = to;
      continue;
    }
    numbers += is_digit(text.at[at]) && (at == 0 || !is_digit(text.at[at - 1]));
    at++;
  }
  return numbers > 0 && numbers <= 2 && (letters > 0 || numbers == 2);
}

static struct slice without_number(struct slice text, bool *repeats)
{
  size_t at = text.size;
  while (at > 0 && is_digit(text.at[at - 1]))
    at--;
  *repeats = at > 1 && at < text.size && text.at[at - 1] == '#';
  return *repeats ? slice_part(text, 0, at - 1) : text;
}

/* The number at the start of a name of lines or a first cell, and what stands behind it. */
static bool is_breakpoint(const struct draft *draft, struct slice text, double *number, struct slice *behind)
{
  struct draft_unit unit;
  size_t used = number_read(text, draft->decimal, number);
  if (used == 0)
    return false;
  *behind = slice_part(text, used, text.size);
  return behind->size == 0 || draft_unit_read(draft->arena, *behind, &unit);
}

static struct draft_step step_of(const struct draft *draft, struct slice text, bool last)
{
  struct draft_step step = {.kind = DRAFT_TEXT};
  enum record_shape shape = draft->style.shape;
  double number = 0;
  struct slice behind;
  step.text = without_number(text, &step.repeats);
  bool flat = shape == SHAPE_LINES || (shape == SHAPE_TABLE && !last);
  if (!flat && is_digits(step.text))
    step.kind = DRAFT_INDEX;
  else if (flat && is_breakpoint(draft, step.text, &number, &behind))
    step = (struct draft_step){DRAFT_ROW, behind, step.repeats};
  else if (is_cell(step.text))
    step.kind = DRAFT_CELL;
  return step;
}

/* Where the step that starts at `at` ends. Names of lines and first cells may hold the slash themselves. */
static size_t step_end(const struct draft *draft, struct slice path, size_t at, size_t index)
{
  size_t depth = 0, last = path.size;
  if (draft->style.shape == SHAPE_LINES && index > 0)
    return path.size;
  for (size_t i = at; i < path.size; i++) {
    char c = path.at[i];
    depth += c == '(' || c == '[';
    depth -= depth > 0 && (c == ')' || c == ']');
    if (c == '/' && depth == 0 && !(draft->style.shape == SHAPE_TABLE && index == 1))
      return i;
    last = c == '/' ? i : last;
  }
  return draft->style.shape == SHAPE_TABLE && index == 1 ? last : path.size;
}

size_t draft_step_split(const struct draft *draft, struct slice path, struct draft_step *out)
{
  size_t count = 0;
  for (size_t at = 0; at <= path.size; count++) {
    if (count == DRAFT_STEPS)
      return 0;
    size_t to = step_end(draft, path, at, count);
    out[count] = step_of(draft, slice_part(path, at, to), to == path.size);
    at = to + 1;
  }
  return count;
}

bool draft_step_key(const struct draft_step *steps, size_t count, char *out)
{
  size_t size = 0;
  for (size_t i = 0; i < count; i++) {
    struct slice text = steps[i].kind == DRAFT_INDEX ? slice_of("\x01") : steps[i].text;
    if (size + text.size + 3 > DRAFT_KEY_SIZE)
      return false;
    if (i > 0)
      out[size++] = '/';
    if (steps[i].kind == DRAFT_ROW)
      out[size++] = '\x02';
    for (size_t k = 0; k < text.size; k++) {
      bool digit = steps[i].kind == DRAFT_CELL && is_digit(text.at[k]);
      if (!digit || k == 0 || !is_digit(text.at[k - 1]))
        out[size++] = digit ? '\x03' : text.at[k];
    }
  }
  out[size] = '\0';
  return size > 0;
}
