/* What one cell of a log says. Reading order: log_cell_number is what nearly all cells go through; the rest is for
 * words and for times of day. */
#include "read/log_cell.h"

#include "base/number.h"

#include <stdint.h>

static char lower(char c)
{
  return (char)(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
}

static bool is_word(struct slice text, const char *word)
{
  if (text.size != strlen(word))
    return false;
  for (size_t i = 0; i < text.size; i++) {
    if (lower(text.at[i]) != word[i])
      return false;
  }
  return true;
}

static bool is_among(struct slice text, const char *const *words, size_t count)
{
  for (size_t i = 0; i < count; i++) {
    if (is_word(text, words[i]))
      return true;
  }
  return false;
}

static bool is_digit(char c)
{
  return c >= '0' && c <= '9';
}

bool log_cell_is_missing(struct slice text)
{
  static const char *const words[] = {"n/a", "na", "#n/a", "nan", "null", "nil", "none", "?", "*"};
  size_t dashes = 0;
  while (dashes < text.size && text.at[dashes] == '-')
    dashes++;
  return dashes == text.size || is_among(text, words, sizeof words / sizeof *words);
}

char log_cell_point(struct slice text)
{
  double ignored = 0;
  for (size_t i = 0; i < text.size; i++) {
    char c = text.at[i];
    if (c == '.' || c == ',')
      return number_read(text, c, &ignored) == text.size ? c : '\0';
  }
  return '\0';
}

enum log_cell log_cell_number(struct log_point *point, struct slice text, double *out)
{
  if (!point->settled) {
    char sign = log_cell_point(text);
    if (sign != '\0')
      *point = (struct log_point){sign, true};
  }
  if (text.size > 0 && number_read(text, point->sign, out) == text.size)
    return LOG_CELL_GOOD;
  return log_cell_is_missing(text) ? LOG_CELL_MISSING : LOG_CELL_BAD;
}

enum log_cell log_cell_switch(struct log_point *point, struct slice text, double *out)
{
  static const char *const on[] = {"on", "true", "yes", "active"};
  static const char *const off[] = {"off", "false", "no", "inactive"};
  enum log_cell cell = log_cell_number(point, text, out);
  if (cell == LOG_CELL_GOOD)
    return *out == 0.0 || *out == 1.0 ? LOG_CELL_GOOD : LOG_CELL_BAD;
  if (cell == LOG_CELL_MISSING)
    return cell;
  bool is_on = is_among(text, on, sizeof on / sizeof *on);
  *out = is_on ? 1.0 : 0.0;
  return is_on || is_among(text, off, sizeof off / sizeof *off) ? LOG_CELL_GOOD : LOG_CELL_BAD;
}

/* Digits at the start, at least one and at most `most`; false when there are none or more. */
static bool take_digits(struct slice *text, size_t most, int64_t *out)
{
  size_t size = 0;
  *out = 0;
  for (; size < text->size && is_digit(text->at[size]); size++) {
    if (size == most)
      return false;
    *out = *out * 10 + (text->at[size] - '0');
  }
  *text = slice_part(*text, size, text->size);
  return size > 0;
}

static bool take(struct slice *text, const char *signs)
{
  if (text->size == 0 || text->at[0] == '\0' || strchr(signs, text->at[0]) == NULL)
    return false;
  *text = slice_part(*text, 1, text->size);
  return true;
}

/* Days since 1970-03-01 of the Gregorian calendar: years are counted from March, so that the leap day comes last. */
static int64_t days_of(int64_t year, int64_t month, int64_t day)
{
  int64_t y = month > 2 ? year : year - 1, m = month > 2 ? month - 3 : month + 9;
  return 365 * (y - 1970) + (y / 4 - y / 100 + y / 400) - (1970 / 4 - 1970 / 100 + 1970 / 400) + (153 * m + 2) / 5 +
         day - 1;
}

static bool take_date(struct slice *text, double *seconds)
{
  *seconds = 0;
  int64_t year = 0, month = 0, day = 0;
  if (!take_digits(text, 4, &year) || !take(text, "-/") || !take_digits(text, 2, &month) || !take(text, "-/") ||
      !take_digits(text, 2, &day) || !take(text, "Tt "))
    return false;
  *text = slice_trim(*text);
  if (year < 1900 || month < 1 || month > 12 || day < 1 || day > 31)
    return false;
  *seconds = (double)days_of(year, month, day) * 86400.0;
  return true;
}

/* H:MM:SS.mmm, and M:SS.mmm unless there is a date in front; the whole text, but for a Z. */
static bool read_time_of_day(struct slice text, bool has_date, double *seconds)
{
  int64_t first = 0, second = 0, whole = 0;
  double fraction = 0;
  if (!take_digits(&text, 6, &first) || !take(&text, ":") || !take_digits(&text, 2, &second) || second > 59)
    return false;
  bool three = take(&text, ":");
  if (three && (!take_digits(&text, 2, &whole) || whole > 60))
    return false;
  if (text.size > 1 && (text.at[0] == '.' || text.at[0] == ',') && is_digit(text.at[1])) {
    size_t digits = 1;
    while (digits < text.size && is_digit(text.at[digits]))
      digits++;
    number_read(slice_part(text, 0, digits), text.at[0], &fraction);
    text = slice_part(text, digits, text.size);
  }
  if (has_date)
    take(&text, "Zz");
  double head = three || has_date ? (double)(first * 3600 + second * 60) : (double)(first * 60);
  *seconds = head + (double)(three || has_date ? whole : second) + fraction;
  return text.size == 0;
}

static bool read_clock(struct slice text, enum log_time_form *form, double *date, double *seconds)
{
  struct slice rest = text;
  bool has_date = take_date(&rest, date);
  if (!read_time_of_day(has_date ? rest : text, has_date, seconds))
    return false;
  *form = has_date ? LOG_TIME_DATE : LOG_TIME_OF_DAY;
  return true;
}

enum log_cell log_cell_time(struct log_clock *clock, struct log_point *point, struct slice text, double *out)
{
  if (clock->form == LOG_TIME_UNSEEN || clock->form == LOG_TIME_NUMBER) {
    enum log_cell cell = log_cell_number(point, text, out);
    if (cell == LOG_CELL_GOOD)
      clock->form = LOG_TIME_NUMBER;
    if (cell != LOG_CELL_BAD || clock->form == LOG_TIME_NUMBER)
      return cell;
  }
  enum log_time_form form = LOG_TIME_UNSEEN;
  double date = 0;
  if (!read_clock(text, &form, &date, out) || (clock->form != LOG_TIME_UNSEEN && clock->form != form))
    return log_cell_is_missing(text) ? LOG_CELL_MISSING : LOG_CELL_BAD;
  const double day = 86400.0;
  if (clock->form == LOG_TIME_UNSEEN)
    clock->first = date;
  if (form == LOG_TIME_OF_DAY && clock->form == form && *out < clock->last - day / 2)
    clock->midnights += day;
  clock->form = form;
  clock->last = *out;
  /* Counted from the first day: a date in seconds would leave few digits for milliseconds. */
  *out += date - clock->first + clock->midnights;
  return LOG_CELL_GOOD;
}
