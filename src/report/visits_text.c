/* For how long a log was in each cell of a table, as people read it: a row for each y, a column for each x, in as many
 * bands as the width takes. Reading order: page_visits. */
#include "report/page.h"

#include "base/number.h"

#include <math.h>
#include <string.h>

#define GAP 1 /* columns between two numbers */

static const char *axis_text(const struct page *page, const struct axis *axis, size_t i)
{
  char text[40];
  number_print(text, sizeof text, unit_from_base(axis->unit, axis->at[i]), 6);
  return arena_text(page->arena, slice_of(text));
}

/* Seconds, as few digits as tell them apart from none: "." is none at all. */
static const char *seconds_text(const struct page *page, double seconds)
{
  if (seconds <= 0)
    return ".";
  if (seconds < 0.05)
    return "0.0";
  return arena_print(page->arena, seconds < 9.95 ? "%.1f" : "%.0f", seconds);
}

struct map {
  size_t rows, columns, head; /* head: width of the numbers of the y axis */
  const char **texts;         /* of the x axis, then row by row */
  size_t *widths;             /* of each column */
  const char **heads;         /* of the y axis */
};

static struct map map_of(const struct page *page, const struct survey_visits *visits)
{
  const struct table *table = visits->table;
  struct map map = {table->y.count, table->x.count, 0, NULL, NULL, NULL};
  map.texts = ARENA_ARRAY(page->arena, map.columns * (map.rows + 1), const char *);
  map.widths = ARENA_ARRAY(page->arena, map.columns, size_t);
  map.heads = ARENA_ARRAY(page->arena, map.rows, const char *);
  for (size_t row = 0; row < map.rows; row++) {
    map.heads[row] = axis_text(page, &table->y, row);
    map.head = strlen(map.heads[row]) > map.head ? strlen(map.heads[row]) : map.head;
  }
  for (size_t row = 0; row <= map.rows; row++) {
    for (size_t column = 0; column < map.columns; column++) {
      const char *text = row == 0 ? axis_text(page, &table->x, column)
                                  : seconds_text(page, visits->time[(row - 1) * map.columns + column]);
      map.texts[row * map.columns + column] = text;
      map.widths[column] = strlen(text) > map.widths[column] ? strlen(text) : map.widths[column];
    }
  }
  return map;
}

/* The highest y first, as the engine's load goes up. */
static void band_print(const struct page *page, const struct map *map, size_t from, size_t to)
{
  for (size_t line = 0; line <= map->rows; line++) {
    size_t row = line == 0 ? 0 : map->rows + 1 - line;
    fprintf(page->out, "%*s%*s", PAGE_MARGIN, "", (int)map->head, row == 0 ? "" : map->heads[row - 1]);
    for (size_t column = from; column < to; column++)
      fprintf(page->out, "%*s", (int)(map->widths[column] + GAP), map->texts[row * map->columns + column]);
    fputc('\n', page->out);
  }
}

static void map_print(const struct page *page, const struct survey_visits *visits)
{
  struct map map = map_of(page, visits);
  size_t to = 0;
  for (size_t from = 0; from < map.columns; from = to) {
    size_t width = PAGE_MARGIN + map.head;
    for (to = from; to < map.columns && (to == from || width + map.widths[to] + GAP <= page->width); to++)
      width += map.widths[to] + GAP;
    if (from > 0)
      fputc('\n', page->out);
    band_print(page, &map, from, to);
  }
}

void page_visits(const struct page *page, const struct survey_visits *visits)
{
  const struct table *table = visits->table;
  if (table == NULL) {
    const char *text = "";
    for (size_t i = 0; i < visits->missing_count; i++)
      text = arena_print(page->arena, "%s%s%s", text, i > 0 ? ", " : "", page_name(page, visits->missing[i]));
    page_heading(page, arena_print(page->arena, "CELLS OF %.*s", SLICE_ARG(visits->name)));
    page_labelled(page, PAGE_MARGIN, "Not to be told without", text);
    return;
  }
  page_heading(page, arena_print(page->arena, "CELLS OF %.*s (seconds in each, . for none; %s across, %s down)",
                                 SLICE_ARG(visits->name), table->x.unit->name, table->y.unit->name));
  map_print(page, visits);
}
