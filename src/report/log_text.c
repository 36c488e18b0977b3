/* The summary of a log as people read it: a line a channel, a line a phase, and what the reader noticed. Reading order:
 * report_log_text at the end names the parts in the order of the page; grid_print sets a table. */
#include "report/page.h"

#include "base/number.h"
#include "report/escape.h"
#include "report/wrap.h"

#include <math.h>
#include <string.h>

#define COLUMNS_MOST 10
#define SHOWN 48 /* columns of a heading that are shown */

/* A table: cells row by row; NULL and "" leave a place free. */
struct grid {
  size_t columns, rows;
  const char **cells;
  bool left[COLUMNS_MOST]; /* else to the right */
};

static struct grid grid_new(const struct page *page, size_t columns, size_t rows)
{
  return (struct grid){columns, rows, ARENA_ARRAY(page->arena, columns * rows, const char *), {false}};
}

static size_t cell_width(const struct grid *grid, size_t row, size_t column)
{
  const char *text = grid->cells[row * grid->columns + column];
  return text != NULL ? escape_columns(slice_of(text)) : 0;
}

/* A column that is empty under its heading, the first row, is left out. */
static void grid_print(const struct page *page, const struct grid *grid)
{
  size_t widths[COLUMNS_MOST] = {0};
  bool used[COLUMNS_MOST] = {false};
  for (size_t row = 0; row < grid->rows; row++) {
    for (size_t column = 0; column < grid->columns; column++) {
      size_t width = cell_width(grid, row, column);
      widths[column] = width > widths[column] ? width : widths[column];
      used[column] = used[column] || (row > 0 && width > 0);
    }
  }
  for (size_t row = 0; row < grid->rows; row++) {
    size_t blanks = PAGE_MARGIN;
    for (size_t column = 0; column < grid->columns; column++) {
      const char *text = grid->cells[row * grid->columns + column];
      size_t width = cell_width(grid, row, column), rest = widths[column] - width;
      if (!used[column])
        continue;
      /* Blanks are written with the text behind them, so that no line ends in blanks. */
      if (width > 0) {
        fprintf(page->out, "%*s%s", (int)(blanks + (grid->left[column] ? 0 : rest)), "",
                escape_line(page->arena, slice_of(text)));
        blanks = grid->left[column] ? rest : 0;
      } else {
        blanks += widths[column];
      }
      blanks += 2;
    }
    fputc('\n', page->out);
  }
}

static const char *number_text(const struct page *page, double value, int digits)
{
  char text[40];
  number_print(text, sizeof text, value, digits);
  return arena_text(page->arena, slice_of(text));
}

/* A value of the channel in its unit, to a tenth of the decimal place in which the channel moves: no digits of
 * arithmetic, and one more for a mean. */
static const char *value_text(const struct page *page, const struct survey_channel *channel, double base)
{
  double value = unit_from_base(channel->unit, base), step = channel->resolution / channel->unit->factor;
  if (step > 0 && isfinite(step)) {
    /* A step of 0.1 may come out as 0.0999999. */
    double places = pow(10, 1 - floor(log10(1.001 * step))), rounded = round(value * places) / places;
    value = isfinite(rounded) ? rounded : value;
  }
  if (fabs(value) < 1e-12 * fabs(channel->unit->offset / channel->unit->factor))
    value = 0;
  return number_text(page, value, 7);
}

static const char *time_text(const struct page *page, double seconds)
{
  return arena_print(page->arena, "%.2f", seconds + 0.0);
}

static const char *share_text(const struct page *page, double share)
{
  double percent = 100 * share;
  /* "100" is all, "0" none. */
  if (percent > 99.9 && percent < 100)
    percent = 99.9;
  if (percent > 0 && percent < 0.1)
    percent = 0.1;
  return number_text(page, round(10 * percent) / 10, 4);
}

/* The heading where it is not the channel's name with its unit in brackets. */
static const char *heading_text(const struct page *page, const struct survey_channel *channel)
{
  struct slice heading = channel->heading, name = channel->name;
  const char *unit = channel->unit->name;
  size_t size = strlen(unit);
  if (slice_equal(heading, name))
    return "";
  bool starts = heading.size == name.size + size + 3 && memcmp(heading.at, name.at, name.size) == 0;
  if (starts && heading.at[name.size] == ' ' && memcmp(heading.at + name.size + 2, unit, size) == 0)
    return "";
  const char *text = escape_line(page->arena, heading);
  size_t columns = 0, used = 0;
  for (struct slice rest = slice_of(text); rest.size > 0; rest = slice_of(text + used)) {
    struct escape_part part = escape_next(rest);
    columns += part.columns;
    if (columns > SHOWN)
      return arena_print(page->arena, "%.*s...", (int)used, text);
    used += part.used;
  }
  return text;
}

static void channel_cells(const struct page *page, const struct survey *survey, const struct survey_channel *channel,
                          const char **cells)
{
  bool plain = dimension_is_none(channel->unit->dimension) && channel->unit->factor == 1;
  const char *heading = heading_text(page, channel);
  bool frozen = channel->known > 1 && channel->distinct == 1;
  cells[0] = arena_text(page->arena, channel->name);
  cells[1] = plain || channel->on_off ? "" : channel->unit->name;
  if (channel->known < survey->rows)
    cells[2] = arena_print(page->arena, "%s %%", share_text(page, (double)channel->known / (double)survey->rows));
  cells[9] = arena_print(page->arena, "%s%s%s", frozen ? "never changes" : "", frozen && heading[0] != '\0' ? "; " : "",
                         heading);
  if (channel->known == 0)
    return;
  if (channel->on_off) {
    cells[3] = channel->least != 0 ? "on" : "off";
    cells[5] = arena_print(page->arena, "%s %% on", share_text(page, channel->mean));
    cells[6] = channel->greatest != 0 ? "on" : "off";
  } else {
    cells[3] = value_text(page, channel, channel->least);
    cells[5] = value_text(page, channel, channel->mean);
    cells[6] = value_text(page, channel, channel->greatest);
    cells[8] = channel->distinct > 1 ? number_text(page, channel->resolution / channel->unit->factor, 3) : "";
  }
  cells[4] = time_text(page, channel->least_time);
  cells[7] = time_text(page, channel->greatest_time);
}

static void channels_print(const struct page *page, const struct survey *survey)
{
  static const char *const heads[COLUMNS_MOST] = {"",     "unit",     "known", "least", "at s",
                                                  "mean", "greatest", "at s",  "step",  "column"};
  struct grid grid = grid_new(page, COLUMNS_MOST, survey->channel_count + 1);
  if (survey->channel_count == 0) {
    page_heading(page, "NO CHANNEL THAT IS KNOWN");
    return;
  }
  page_heading(page, arena_print(page->arena, "CHANNELS (%zu)", survey->channel_count));
  memcpy(grid.cells, heads, sizeof heads);
  grid.left[0] = grid.left[1] = grid.left[9] = true;
  for (size_t i = 0; i < survey->channel_count; i++)
    channel_cells(page, survey, &survey->channels[i], grid.cells + (i + 1) * COLUMNS_MOST);
  grid_print(page, &grid);
}

static const char *seconds_text(const struct page *page, double seconds)
{
  return arena_print(page->arena, "%s s", time_text(page, seconds));
}

static const char *missing_text(const struct page *page, const struct survey_phase *phase)
{
  const char *text = "";
  for (size_t i = 0; i < phase->missing_count; i++) {
    const char *name = phase->missing[i];
    name = strncmp(name, "log.", 4) == 0 ? name + 4 : page_name(page, name);
    text = arena_print(page->arena, "%s%s%s", text, i > 0 ? ", " : "", name);
  }
  return arena_print(page->arena, "%s%s", text[0] != '\0' ? "not to be told without " : "not to be told", text);
}

static void phases_print(const struct page *page, const struct survey *survey)
{
  enum { COLUMNS = 5 };
  static const char *const heads[COLUMNS] = {"", "held", "stretches", "longest", ""};
  struct grid grid = grid_new(page, COLUMNS, survey->phase_count + 1);
  if (survey->phase_count == 0)
    return;
  page_heading(page, "PHASES");
  memcpy(grid.cells, heads, sizeof heads);
  grid.left[0] = grid.left[4] = true;
  for (size_t i = 0; i < survey->phase_count; i++) {
    const struct survey_phase *phase = &survey->phases[i];
    const char **cells = grid.cells + (i + 1) * COLUMNS;
    cells[0] = phase->title;
    if (!phase->known) {
      cells[4] = missing_text(page, phase);
    } else if (phase->stretches == 0) {
      cells[1] = "none";
    } else {
      cells[1] = seconds_text(page, phase->duration);
      cells[2] = number_text(page, (double)phase->stretches, 9);
      cells[3] = seconds_text(page, phase->longest);
    }
    if (phase->known && phase->has_least && phase->duration < phase->least)
      cells[4] = arena_print(page->arena, "rules need %s", seconds_text(page, phase->least));
  }
  grid_print(page, &grid);
}

static void spans_print(const struct page *page, const char *heading, size_t count, const struct survey_span *spans)
{
  page_heading(page, arena_print(page->arena, "%s (%zu)", heading, count));
  for (size_t i = 0; i < count && i < SURVEY_KEPT; i++) {
    const char *rows = spans[i].rows > 0
                           ? arena_print(page->arena, "%zu row%s", spans[i].rows, spans[i].rows == 1 ? "" : "s")
                           : seconds_text(page, spans[i].end - spans[i].start);
    fprintf(page->out, "%*s%s: %s s to %s s, %s\n", PAGE_MARGIN, "",
            report_place(page->arena, page->sources, spans[i].place), time_text(page, spans[i].start),
            time_text(page, spans[i].end), rows);
  }
  if (count > SURVEY_KEPT)
    fprintf(page->out, "%*sand %zu more\n", PAGE_MARGIN, "", count - SURVEY_KEPT);
}

static void unknown_print(const struct page *page, const struct survey *survey)
{
  if (survey->unknown_count == 0)
    return;
  page_heading(page, arena_print(page->arena, "COLUMNS THAT ARE NO KNOWN CHANNEL (%zu)", survey->unknown_count));
  for (size_t i = 0; i < survey->unknown_count; i++) {
    const struct survey_unknown *unknown = &survey->unknown[i];
    const char *near =
        unknown->near.size > 0 ? arena_print(page->arena, "; the nearest is %.*s", SLICE_ARG(unknown->near)) : "";
    wrap_print(page->out, page->width, PAGE_MARGIN, PAGE_MARGIN + 2, "",
               arena_print(page->arena, "%s: %s%s", report_place(page->arena, page->sources, unknown->place),
                           escape_line(page->arena, unknown->heading), near));
  }
}

static void notes_print(const struct page *page, const struct survey *survey)
{
  if (survey->note_count == 0)
    return;
  page_heading(page, "NOTICED");
  for (size_t i = 0; i < survey->note_count; i++) {
    const struct survey_note *note = &survey->notes[i];
    const char *place = report_place(page->arena, page->sources, note->place);
    wrap_print(page->out, page->width, PAGE_MARGIN, PAGE_MARGIN + 2, "",
               arena_print(page->arena, "%s%s%s", place, place[0] != '\0' ? ": " : "", note->text));
  }
}

static void steps_print(const struct page *page, const struct survey *survey)
{
  if (!(survey->step > 0))
    return;
  const char *least = number_text(page, survey->step_least, 4), *greatest = number_text(page, survey->step_greatest, 4);
  const char *range =
      strcmp(least, greatest) == 0 ? "" : arena_print(page->arena, ", from %s s to %s s", least, greatest);
  fprintf(page->out, "%*ssteps of %s s%s\n", PAGE_MARGIN, "", number_text(page, survey->step, 4), range);
}

bool report_log_text(FILE *out, const struct report_log *log, struct sources *sources,
                     const struct report_options *options)
{
  struct page page = {out, arena_new(), sources, NULL, options->color, options->width};
  const struct survey *survey = log->survey;
  page.width = page.width == 0 ? WRAP_WIDTH : page.width;
  fprintf(out, "%s\n", escape_line(page.arena, log->file));
  if (survey == NULL) {
    page_heading(&page, "PROBLEMS: WHAT COULD NOT BE READ");
    report_problems(out, log->problems, sources, options);
  } else {
    fprintf(out, "%*s%s\n", PAGE_MARGIN, "", survey->rate);
    steps_print(&page, survey);
    channels_print(&page, survey);
    phases_print(&page, survey);
    for (size_t i = 0; i < survey->visits_count; i++)
      page_visits(&page, &survey->visits[i]);
    if (survey->gap_count > 0)
      spans_print(&page, "GAPS", survey->gap_count, survey->gaps);
    if (survey->stretch_count > 1)
      spans_print(&page, "STRETCHES", survey->stretch_count, survey->stretches);
    unknown_print(&page, survey);
    notes_print(&page, survey);
  }
  arena_free(page.arena);
  return true;
}
