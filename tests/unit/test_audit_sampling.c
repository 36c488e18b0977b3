/* The same drive logged in another way must come to the same verdicts: with another clock, with every row twice, with
 * twice as many rows (by straight line between two), with half as many. All shipped rules, on the example job (common
 * practice, no source: what is wrong with a car does not depend on its logger). */
#include "rules_help.h"

#include <glob.h>
#include <stdlib.h>

#define FOLDER "examples/sandpiper/"

static struct slice file_bytes(struct run *run, const char *path)
{
  const struct source *source = sources_open(run->sources, path, LIMIT_YAML_BYTES, &run->problems);
  if (!source)
    fail_msg("%s: %s", path, run->problems.items[0].message);
  return source->bytes;
}

/* What follows the first line, which shop_audit writes itself. */
static const char *body_of(struct run *run, const char *path)
{
  const char *text = arena_text(run->arena, file_bytes(run, path)), *line;
  for (line = text; line[0] == '#' || line[0] == '\n'; line = strchr(line, '\n') + 1)
    ;
  return strchr(line, '\n') + 1;
}

static struct shop shop_with_all_rules(void)
{
  struct shop shop = {.run = run_new()};
  struct run *run = &shop.run;
  run_vocabulary(run);
  const struct source *sources[64], *cautions = NULL;
  size_t count = 0;
  glob_t found;
  assert_int_equal(glob("rules/*.yaml", 0, NULL, &found), 0);
  for (size_t i = 0; i < found.gl_pathc; i++) {
    const char *path = found.gl_pathv[i];
    if (strstr(path, "dictionary") || strstr(path, "checklist"))
      continue;
    const struct source *source = sources_open(run->sources, path, LIMIT_YAML_BYTES, &run->problems);
    assert_non_null(source);
    assert_true(count < 64);
    if (strstr(path, "cautions"))
      cautions = source;
    else
      sources[count++] = source;
  }
  globfree(&found);
  assert_true(count > 0 && cautions);
  shop.packs =
      packs_read(run->arena, audit_names(run->arena, run->vocabulary), cautions, sources, count, &run->problems);
  if (!shop.packs)
    fail_msg("%s", run_said(run));
  return shop;
}

enum way { AS_IT_IS, ANOTHER_CLOCK, EVERY_ROW_TWICE, TWICE_THE_ROWS, HALF_THE_ROWS };

struct cells { /* of one row */
  size_t count;
  struct slice at[64];
};

static struct cells split(struct slice line)
{
  struct cells cells = {0};
  for (size_t from = 0, to = 0; to <= line.size; to++) {
    if (to < line.size && line.at[to] != ',')
      continue;
    assert_true(cells.count < 64);
    cells.at[cells.count++] = slice_part(line, from, to);
    from = to + 1;
  }
  return cells;
}

static double number_of(struct slice cell)
{
  char text[32] = "";
  memcpy(text, cell.at, cell.size < 31 ? cell.size : 31);
  return strtod(text, NULL);
}

/* The row half-way between two: switches (columns without a unit) keep their state, missing stays missing. */
static size_t print_middle(char *out, size_t size, const struct cells *head, const struct cells *a,
                           const struct cells *b)
{
  size_t used = 0;
  for (size_t i = 0; i < head->count; i++) {
    bool number = memchr(head->at[i].at, '[', head->at[i].size) != NULL;
    used += i > 0 ? (size_t)snprintf(out + used, size - used, ",") : 0;
    if (a->at[i].size == 0 || (number && b->at[i].size == 0))
      continue;
    used += number ? (size_t)snprintf(out + used, size - used, "%.6f", (number_of(a->at[i]) + number_of(b->at[i])) / 2)
                   : (size_t)snprintf(out + used, size - used, "%.*s", SLICE_ARG(a->at[i]));
  }
  return used + (size_t)snprintf(out + used, size - used, "\n");
}

static size_t print_row(char *out, size_t size, struct slice line, double later)
{
  struct cells cells = split(line);
  size_t rest = cells.at[0].size;
  if (later == 0)
    return (size_t)snprintf(out, size, "%.*s\n", SLICE_ARG(line));
  return (size_t)snprintf(out, size, "%.2f%.*s\n", number_of(cells.at[0]) + later,
                          SLICE_ARG(slice_part(line, rest, line.size)));
}

static const char *logged(struct arena *arena, struct slice bytes, enum way way)
{
  size_t size = 3 * bytes.size + 100000, used = 0, row = 0;
  char *out = arena_alloc(arena, size);
  struct cells head = {0}, last = {0};
  for (size_t from = 0; from < bytes.size; row++) {
    size_t to = from;
    while (to < bytes.size && bytes.at[to] != '\n')
      to++;
    struct slice line = slice_part(bytes, from, to);
    struct cells cells = split(line);
    from = to + 1;
    if (row == 0) {
      head = cells;
      used += print_row(out, size, line, 0);
      continue;
    }
    assert_int_equal(cells.count, head.count);
    if (way == TWICE_THE_ROWS && row > 1)
      used += print_middle(out + used, size - used, &head, &last, &cells);
    last = cells;
    if (way != HALF_THE_ROWS || row % 2 == 1)
      used += print_row(out + used, size - used, line, way == ANOTHER_CLOCK ? 43210.5 : 0);
    if (way == EVERY_ROW_TWICE)
      used += print_row(out + used, size - used, line, 0);
  }
  assert_true(row > 1000 && used < size);
  return out;
}

/* Every rule with its verdict; findings with their subject and severity. */
static const char *verdicts(const char *job, enum way way, struct arena *arena)
{
  struct shop shop = shop_with_all_rules();
  struct run *run = &shop.run;
  struct work_order order = {
      .settings = body_of(run, arena_print(arena, FOLDER "%s/settings.yaml", job)),
      .job = body_of(run, arena_print(arena, FOLDER "%s/job.yaml", job)),
      .log = logged(run->arena, file_bytes(run, arena_print(arena, FOLDER "%s/log.csv", job)), way)};
  const struct outcome *outcome = shop_audit(&shop, order, NULL);
  const char *out = "";
  /* Findings are in order of place, and other rows have other places. */
  for (size_t r = 0; r < shop.packs->rule_count; r++) {
    for (size_t i = 0; i < outcome->finding_count; i++) {
      const struct finding *finding = &outcome->findings[i];
      if (strcmp(finding->id, shop.packs->rules[r]->id.at) == 0)
        out = arena_print(arena, "%s%s %s %s\n", out, finding->id, finding->subject, severity_name(finding->severity));
    }
  }
  for (size_t i = 0; i < outcome->clear_count; i++)
    out = arena_print(arena, "%sclear %s\n", out, outcome->clear[i]);
  for (size_t i = 0; i < outcome->undecided_count; i++)
    out = arena_print(arena, "%sundecided %s\n", out, outcome->undecided[i].rule);
  assert_true(outcome->clear_count > 0);
  assert_true(outcome->finding_count > 0 || strcmp(job, "as-it-left") == 0); /* as it left nothing is wrong */
  shop_close(&shop);
  return out;
}

/* Fails with the first lines that differ: all of them are too many to print. */
static void expect_same(const char *is, const char *wanted, const char *job, enum way way)
{
  static const char *const ways[] = {"as it is", "another clock", "every row twice", "twice the rows", "half the rows"};
  while (*is == *wanted && *is != '\0') {
    size_t size = strcspn(is, "\n") + 1;
    if (strncmp(is, wanted, size) != 0)
      break;
    is += size;
    wanted += size;
  }
  if (strcmp(is, wanted) != 0)
    fail_msg("%s, %s: '%.*s', usually '%.*s'", job, ways[way], (int)strcspn(is, "\n"), is, (int)strcspn(wanted, "\n"),
             wanted);
}

static void another_way_of_logging_changes_no_verdict(void **state)
{
  static const char *const jobs[] = {"as-it-came", "as-it-left"};
  (void)state;
  for (size_t i = 0; i < 2; i++) {
    struct arena *arena = arena_new();
    const char *usual = verdicts(jobs[i], AS_IT_IS, arena);
    for (int way = ANOTHER_CLOCK; way <= HALF_THE_ROWS; way++)
      expect_same(verdicts(jobs[i], (enum way)way, arena), usual, jobs[i], (enum way)way);
    arena_free(arena);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(another_way_of_logging_changes_no_verdict)};
  return cmocka_run_group_tests_name("audit sampling", tests, NULL, NULL);
}
