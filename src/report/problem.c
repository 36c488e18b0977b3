/* Problems as people read them. Reading order: report_problems, problem_print, then line_show, which cuts a long line
 * around the marked bytes and puts the caret under what it shows, not under what the file holds: an escape or a wide
 * character takes more than one column. */
#include "report/report.h"

#include "report/escape.h"

#define LINE_COLUMNS 100 /* of a line that are shown */
#define LINE_BEFORE 60   /* of them before the mark */
#define LINE_INDENT 4

/* A tab is shown as one blank, so that the caret line needs none. */
static struct escape_part part_show(struct slice text)
{
  struct escape_part part = escape_next(text);
  if (text.at[0] == '\t')
    part = (struct escape_part){.text = " ", .used = 1, .columns = 1};
  return part;
}

static size_t columns_between(struct slice line, size_t from, size_t to)
{
  size_t columns = 0;
  while (from < to) {
    struct escape_part part = part_show(slice_part(line, from, line.size));
    columns += part.columns;
    from += part.used;
  }
  return columns;
}

/* Where to begin so that no more than LINE_BEFORE columns stand before byte `to`: that many bytes back, then forward
 * again over what takes more columns than bytes. */
static size_t line_start(struct slice line, size_t to)
{
  size_t from = to > LINE_BEFORE ? to - LINE_BEFORE : 0;
  while (from > 0 && from < to && ((unsigned char)line.at[from] & 0xC0u) == 0x80u)
    from++;
  size_t columns = columns_between(line, from, to);
  while (columns > LINE_BEFORE) {
    struct escape_part part = part_show(slice_part(line, from, line.size));
    columns -= part.columns;
    from += part.used;
  }
  return from;
}

/* The line fits when its columns, taken to its end or to one past the limit, do. */
static bool line_fits(struct slice line)
{
  size_t columns = 0;
  for (size_t at = 0; at < line.size;) {
    struct escape_part part = part_show(slice_part(line, at, line.size));
    columns += part.columns;
    if (columns > LINE_COLUMNS)
      return false;
    at += part.used;
  }
  return true;
}

/* Writes the line from `start`; *before and *marked become the columns before and under the mark. */
static void line_show(FILE *out, const struct position *position, size_t start, size_t *before, size_t *marked)
{
  struct slice line = position->text;
  size_t columns = 0, at = start;
  *before = *marked = 0;
  fprintf(out, "%*s", LINE_INDENT, "");
  if (start > 0) {
    fputs("...", out);
    columns = 3;
    *before = 3;
  }
  /* Blanks at the end are not shown: a line of output never ends in blanks. */
  size_t end = line.size;
  while (end > start && (line.at[end - 1] == ' ' || line.at[end - 1] == '\t'))
    end--;
  while (at < line.size) {
    struct escape_part part = part_show(slice_part(line, at, line.size));
    if (columns + part.columns > LINE_COLUMNS) {
      fputs("...", out);
      break;
    }
    if (at < end)
      fputs(part.text, out);
    if (at < position->from)
      *before += part.columns;
    else if (at < position->to)
      *marked += part.columns;
    columns += part.columns;
    at += part.used;
  }
  fputc('\n', out);
}

static void position_show(FILE *out, const struct position *position)
{
  size_t start = line_fits(position->text) ? 0 : line_start(position->text, position->from);
  size_t before, marked;
  line_show(out, position, start, &before, &marked);
  fprintf(out, "%*s", (int)(LINE_INDENT + before), "");
  for (size_t i = 0; i < (marked == 0 ? 1 : marked); i++)
    fputc('^', out);
  fputc('\n', out);
}

const char *report_place(struct arena *arena, struct sources *sources, struct place place)
{
  struct position position;
  if (!sources_position(sources, place, &position))
    return "";
  const char *name = escape_line(arena, position.name);
  if (sources_get(sources, place.source)->bytes.size == 0)
    return name;
  return arena_print(arena, "%s:%llu:%llu", name, (unsigned long long)position.line,
                     (unsigned long long)position.column);
}

static bool is_blank(struct slice line)
{
  return slice_trim(line).size == 0;
}

static void problem_print(FILE *out, struct arena *arena, const struct problem *problem, struct sources *sources,
                          const struct report_options *options)
{
  const char *place = report_place(arena, sources, problem->place);
  struct position position;
  bool shown = sources_position(sources, problem->place, &position) && !is_blank(position.text);
  const char *bold = options->color ? "\x1b[1m" : "", *plain = options->color ? "\x1b[0m" : "";
  fprintf(out, "%s%s:%s %s\n", bold, place[0] != '\0' ? place : "keyway", plain,
          escape_line(arena, slice_of(problem->message)));
  if (shown)
    position_show(out, &position);
  if (problem->hint != NULL)
    fprintf(out, "%*shint: %s\n", LINE_INDENT, "", escape_line(arena, slice_of(problem->hint)));
}

void report_problems(FILE *out, const struct problems *problems, struct sources *sources,
                     const struct report_options *options)
{
  struct arena *arena = arena_new();
  struct problems sorted = *problems;
  sorted.items = ARENA_ARRAY(arena, problems->count, struct problem);
  if (problems->count > 0)
    memcpy(sorted.items, problems->items, problems->count * sizeof *sorted.items);
  problems_sort(&sorted);
  for (size_t i = 0; i < sorted.count; i++)
    problem_print(out, arena, &sorted.items[i], sources, options);
  if (sorted.dropped > 0)
    fprintf(out, "keyway: and %zu more problem%s, not shown\n", sorted.dropped, sorted.dropped == 1 ? "" : "s");
  arena_free(arena);
}
