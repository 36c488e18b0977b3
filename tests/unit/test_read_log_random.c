/* Random sheets written in many dialects read back the same; mutated logs neither crash nor give a log that contradicts
 * itself. The second runs RUNS times; more by hand with -DRUNS=50000. */
#include "test_read_log_help.h"

#ifndef RUNS
#define RUNS 3000
#endif
#define ROWS_MOST 24
#define COLUMNS 4
#define TEXT_SIZE (64 * 1024)

static const char *const names[COLUMNS] = {"time", "engine_speed", "coolant_temperature", "clutch_switch"};
static const char *const headings[COLUMNS][3] = {{"time", "Time", "TIMESTAMP"},
                                                 {"engine_speed", "RPM", "Engine-Speed"},
                                                 {"coolant_temperature", "ECT", "coolant temp"},
                                                 {"clutch_switch", "Clutch", "CLUTCH.SWITCH"}};
static const char *const units[COLUMNS] = {"s", "rpm", "degF", ""};

struct sheet {
  size_t rows;
  char cell[ROWS_MOST][COLUMNS][32]; /* decimal point; empty: missing */
};

static void sheet_make(struct sheet *sheet, uint64_t *seed)
{
  sheet->rows = chance(seed, ROWS_MOST) + 1;
  for (size_t row = 0; row < sheet->rows; row++) {
    snprintf(sheet->cell[row][0], 32, "%zu.%02u", row, (unsigned)chance(seed, 100));
    snprintf(sheet->cell[row][1], 32, "%.*g", (int)chance(seed, 12) + 1, (double)chance(seed, 1u << 30) / 1e5);
    snprintf(sheet->cell[row][2], 32, "%.*f", (int)chance(seed, 4), (double)chance(seed, 4000) / 10 - 40);
    snprintf(sheet->cell[row][3], 32, "%u", (unsigned)chance(seed, 2));
    for (size_t i = 1; i < COLUMNS; i++) {
      if (chance(seed, 6) == 0)
        sheet->cell[row][i][0] = '\0';
    }
  }
  snprintf(sheet->cell[0][0], 32, "0");
}

struct dialect {
  char separator, point;
  bool quoted, blanks, trailing, titles, markers, bom;
  const char *line_end, *missing;
  unsigned unit_style; /* 0 [], 1 (), 2 row, 3 last word */
};

static struct dialect dialect_make(uint64_t *seed)
{
  static const char *const line_ends[] = {"\n", "\r\n", "\r"};
  static const char *const missings[] = {"", "-", "n/a", "NaN"};
  struct dialect d = {.separator = ",;\t"[chance(seed, 3)], .point = '.'};
  if (d.separator != ',' && chance(seed, 2) == 0)
    d.point = ',';
  d.quoted = chance(seed, 2) == 0;
  d.blanks = chance(seed, 2) == 0;
  d.trailing = chance(seed, 2) == 0;
  d.titles = chance(seed, 2) == 0;
  d.markers = chance(seed, 2) == 0;
  d.bom = chance(seed, 2) == 0;
  d.line_end = line_ends[chance(seed, 3)];
  d.missing = missings[chance(seed, 4)];
  d.unit_style = chance(seed, 4);
  return d;
}

static char *write_cell(char *at, const struct dialect *d, const char *text, bool is_number)
{
  at += sprintf(at, "%s%s", d->blanks ? " " : "", d->quoted ? "\"" : "");
  for (const char *c = text[0] == '\0' ? d->missing : text; *c != '\0'; c++)
    *at++ = is_number && *c == '.' ? d->point : *c;
  return at + sprintf(at, "%s%s", d->quoted ? "\"" : "", d->blanks ? "  " : "");
}

static char *write_end(char *at, const struct dialect *d)
{
  if (d->trailing)
    *at++ = d->separator;
  return at + sprintf(at, "%s", d->line_end);
}

static char *write_heading(char *at, const struct dialect *d, uint64_t *seed)
{
  static const char *const styles[] = {"%s [%s]", "%s(%s)", "%s", "%s %s"};
  for (size_t i = 0; i < COLUMNS; i++) {
    char text[96];
    const char *name = headings[i][chance(seed, 3)];
    const char *style = units[i][0] == '\0' ? "%s" : styles[d->unit_style];
    snprintf(text, sizeof text, style, name, units[i]);
    if (i > 0)
      *at++ = d->separator;
    at = write_cell(at, d, text, false);
  }
  at = write_end(at, d);
  for (size_t i = 0; d->unit_style == 2 && i < COLUMNS; i++) {
    if (i > 0)
      *at++ = d->separator;
    at = write_cell(at, d, units[i], false);
  }
  return d->unit_style == 2 ? write_end(at, d) : at;
}

static size_t sheet_write(char *text, const struct sheet *sheet, const struct dialect *d, uint64_t *seed)
{
  char *at = text;
  if (d->bom)
    at += sprintf(at, "\xEF\xBB\xBF");
  if (d->titles)
    at += sprintf(at, "# log, of; a\ttest%sA drive%s%s", d->line_end, d->line_end, d->line_end);
  at = write_heading(at, d, seed);
  for (size_t row = 0; row < sheet->rows; row++) {
    if (d->markers && chance(seed, 5) == 0)
      at += sprintf(at, "MARK %zu%s", row, d->line_end);
    for (size_t i = 0; i < COLUMNS; i++) {
      if (i > 0)
        *at++ = d->separator;
      at = write_cell(at, d, sheet->cell[row][i], true);
    }
    at = write_end(at, d);
  }
  return (size_t)(at - text);
}

static void expect_sheet(const struct given *g, const struct sheet *sheet)
{
  for (size_t i = 0; i < COLUMNS; i++) {
    const struct series *series = channel(g, names[i]);
    assert_int_equal(series->count, sheet->rows);
    for (size_t row = 0; row < sheet->rows; row++) {
      const char *cell = sheet->cell[row][i];
      assert_int_equal(series->known == NULL || series->known[row], cell[0] != '\0');
      if (cell[0] != '\0')
        assert_true(series->at[row] == unit_to_base(series->unit, strtod(cell, NULL)));
    }
  }
}

static void test_random_sheets(void **state)
{
  uint64_t seed = 4;
  char *text = malloc(TEXT_SIZE);
  struct sheet *sheet = malloc(sizeof *sheet);
  assert_non_null(text);
  assert_non_null(sheet);
  for (int run = 0; run < 300; run++) {
    sheet_make(sheet, &seed);
    for (int style = 0; style < 4; style++) {
      struct dialect d = dialect_make(&seed);
      size_t size = sheet_write(text, sheet, &d, &seed);
      assert_true(size < TEXT_SIZE);
      struct given g = give_with(state, (struct slice){text, size}, &(struct log_options){0});
      if (g.log == NULL || g.log->row_count != sheet->rows)
        print_error("%.*s\n", (int)size, text);
      expect_sheet(&g, sheet);
      given_free(&g);
    }
  }
  free(sheet);
  free(text);
}

static const char *const good[] = {
    "# t\ntime (s),RPM,\"coolant (degC)\",clutch\n0,800,20.5,on\n0.1,,21,off\nMARK 1\n0.2,820,-4,1\n",
    "time;rpm;coolant\nms;rpm;degF\n0;800;20,5\n40;\"8\";\n80;9;1\n",
    "timestamp\tMAP [psi]\tfan\r\n12:00:00.5\t14.7\ttrue\r\n12:00:01\t-\tno\r\n",
    "time,foo,\"a\"\"b\",VE\n2024-02-29T01:00:00Z,1,2,3\n2024-02-29T01:00:01Z,1,2,3,\n",
};

/* What a mutation puts in: the bytes that mean something. */
static const char pieces[] = ",;\t\"\"\n\r \0.-:#/()[]e19x\xB0\xFF\x1A";

static size_t mutate(char *text, size_t size, uint64_t *seed)
{
  for (uint32_t edits = chance(seed, 6) + 1; edits > 0 && size > 1; edits--) {
    size_t at = chance(seed, (uint32_t)size), span = chance(seed, 12);
    switch (chance(seed, 5)) {
    case 0:
      text[at] = pieces[chance(seed, sizeof pieces - 1)];
      break;
    case 1:
      span = span > size - at ? size - at : span;
      memmove(text + at, text + at + span, size - at - span);
      size -= span;
      break;
    case 2:
      memmove(text + at + 1, text + at, size - at);
      text[at] = pieces[chance(seed, sizeof pieces - 1)];
      size++;
      break;
    case 3:
      span = span > size - at ? size - at : span;
      memmove(text + at + span, text + at, size - at);
      size += span;
      break;
    default:
      if (chance(seed, 4) == 0)
        size = at;
    }
  }
  return size;
}

static void expect_sound(const struct given *g)
{
  const struct log *log = g->log;
  uint64_t size = g->source->bytes.size;
  if (log == NULL) {
    assert_true(g->problems.count > 0);
    return;
  }
  assert_int_equal(g->problems.count, 0);
  assert_true(log->row_count > 0);
  uint64_t last = 0;
  for (size_t i = 0; i < log->row_count; i++) {
    struct place place = log_row_place(log, i);
    assert_true(place.start >= last && place.end > place.start);
    last = place.end;
  }
  assert_true(last <= log->parts[0].end && log->parts[0].end <= size);
  for (size_t i = 0; i < log->note_count; i++) {
    assert_true(log->notes[i].place.start <= log->notes[i].place.end && log->notes[i].place.end <= size);
    assert_null(strchr(log->notes[i].text, '\n'));
  }
  bool seen_time = false;
  for (size_t i = 0; i < g->vocabulary->count[SCOPE_LOG]; i++) {
    const struct value *value = log->values[i];
    assert_int_equal(value != NULL, log->present[i]);
    if (value == NULL)
      continue;
    const struct series *series = &value->as.series;
    assert_int_equal(series->count, log->row_count);
    for (size_t row = 0; row < series->count; row++)
      assert_true((series->known != NULL && !series->known[row]) || isfinite(series->at[row]));
    seen_time = seen_time || i == channel_index(g, "time");
  }
  assert_true(seen_time);
}

static void test_mutations(void **state)
{
  uint64_t seed = 5;
  size_t read = 0, refused = 0;
  for (int run = 0; run < RUNS; run++) {
    char text[1024];
    const char *from = good[chance(&seed, sizeof good / sizeof *good)];
    memcpy(text, from, strlen(from));
    size_t size = mutate(text, strlen(from), &seed);
    char *exact = malloc(size + (size == 0)); /* no byte more, for the address sanitizer */
    assert_non_null(exact);
    memcpy(exact, text, size);
    struct given g = give_with(state, (struct slice){exact, size}, &(struct log_options){.rate = chance(&seed, 2)});
    expect_sound(&g);
    read += g.log != NULL;
    refused += g.log == NULL;
    given_free(&g);
    free(exact);
  }
  assert_true(read > RUNS / 20 && refused > RUNS / 20);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_random_sheets),
      cmocka_unit_test(test_mutations),
  };
  return cmocka_run_group_tests_name("read_log_random", tests, shared_open, shared_close);
}
