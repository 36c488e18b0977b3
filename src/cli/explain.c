/* keyway explain: everything about one rule, offline. What can be computed (severity, names, limits) comes from the
 * compiled rule; the expressions and the example are shown as they were written. Reading order: explain_print at the
 * end names the parts in the order of the page. */
#include "cli/command.h"

#include "cli/library.h"
#include "cli/reference.h"
#include "report/escape.h"
#include "report/report.h"
#include "report/wrap.h"

#define MARGIN 2u
#define LABEL_COLUMN 12u

static void heading_print(const char *text)
{
  printf("\n%s\n", text);
}

static void labelled_print(const char *label, const char *text)
{
  struct wrap wrap;
  wrap_open(&wrap, stdout, WRAP_WIDTH, MARGIN, LABEL_COLUMN);
  wrap_add(&wrap, slice_of(label));
  wrap_to(&wrap, LABEL_COLUMN);
  wrap_add(&wrap, slice_of(text));
  wrap_close(&wrap);
}

static void section_print(const char *heading, const char *text)
{
  if (text == NULL || text[0] == '\0')
    return;
  heading_print(heading);
  wrap_print(stdout, WRAP_WIDTH, MARGIN, MARGIN, "", text);
}

static const char *severities_of(struct arena *arena, const enum severity *of)
{
  const char *text = "";
  for (int i = 0; i < STAGE_COUNT; i++)
    text = arena_print(arena, "%s%s%s %s", text, i == 0 ? "" : ", ", stage_name((enum stage)i), severity_name(of[i]));
  return text;
}

static void head_print(struct arena *arena, struct sources *sources, const struct rule *rule)
{
  printf("%s\n", escape_line(arena, rule->id));
  wrap_print(stdout, WRAP_WIDTH, 0, 0, "", rule->title);
  putchar('\n');
  labelled_print("topic", rule->topic);
  labelled_print("severity", severities_of(arena, rule->severity));
  if (rule->has_severe)
    labelled_print("at worst", severities_of(arena, rule->severe));
  const char *needs = rule->need_count == 0 ? "nothing that has a name" : "";
  for (size_t i = 0; i < rule->need_count; i++)
    needs = arena_print(arena, "%s%s%s", needs, i == 0 ? "" : ", ", rule->needs[i]);
  labelled_print("reads", needs);
  labelled_print("pack", arena_print(arena, "%s, %s", rule->pack, report_place(arena, sources, rule->place)));
}

/* A node on one line: "x", "a; b", "that: x; else: y". */
static const char *node_inline(struct arena *arena, const struct node *node)
{
  if (node->kind == NODE_SCALAR)
    return arena_text(arena, node->text);
  const char *text = "";
  for (size_t i = 0; i < node->count; i++) {
    const char *mark = i == 0 ? "" : "; ";
    if (node->kind == NODE_LIST)
      text = arena_print(arena, "%s%s%s", text, mark, node_inline(arena, &node->items[i]));
    else
      text = arena_print(arena, "%s%s%.*s: %s", text, mark, SLICE_ARG(node->pairs[i].key.text),
                         node_inline(arena, &node->pairs[i].value));
  }
  return text;
}

/* One line for a text, one for each item of a list or a map. */
static void key_print(struct arena *arena, const char *key, const struct node *value)
{
  if (value->kind == NODE_SCALAR) {
    labelled_print(key, node_inline(arena, value));
    return;
  }
  for (size_t i = 0; i < value->count; i++) {
    const char *text = "";
    if (value->kind == NODE_LIST)
      text = node_inline(arena, &value->items[i]);
    else
      text = arena_print(arena, "%.*s: %s", SLICE_ARG(value->pairs[i].key.text),
                         node_inline(arena, &value->pairs[i].value));
    labelled_print(i == 0 ? key : "", text);
  }
}

static void keys_print(struct arena *arena, const struct node *map)
{
  static const char *const keys[] = {"applies", "phases",  "needs", "let",    "each",   "where", "flag",
                                     "subject", "measure", "limit", "places", "severe", "say"};
  for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
    const struct node *value = node_get(map, keys[i]);
    if (value != NULL)
      key_print(arena, keys[i], value);
  }
}

static void test_print(struct arena *arena, const struct rule *rule)
{
  heading_print("THE TEST, AS WRITTEN");
  keys_print(arena, rule->node);
  const struct node *checks = node_get(rule->node, "checks");
  if (checks == NULL || checks->kind != NODE_LIST)
    return;
  labelled_print("decide", rule->decide_any ? "any: one decided check is enough for clear"
                                            : "all: every check must be decided for clear");
  for (size_t i = 0; i < checks->count; i++) {
    printf("\n  Check %zu\n", i + 1);
    keys_print(arena, &checks->items[i]);
  }
}

static void phases_print(struct arena *arena, const struct packs *packs, const struct rule *rule)
{
  if (rule->phase_count > 0)
    heading_print("PHASES (SHARED BY RULES)");
  for (size_t i = 0; i < rule->phase_count; i++) {
    const struct phase *phase = packs_phase(packs, slice_of(rule->phases[i]));
    const char *line =
        arena_print(arena, "phase.%s = %s. In words: %s. %s A rule that demands it wants %s of it in the log.",
                    rule->phases[i], phase->when_written, phase->title, phase->why, phase->least_written);
    wrap_print(stdout, WRAP_WIDTH, MARGIN, MARGIN + 2, "", line);
  }
}

static void limits_print(struct arena *arena, const struct packs *packs, const struct rule *rule)
{
  const bool *seen = reference_limits(arena, packs, rule);
  bool any = false;
  for (size_t i = 0; i < packs->limit_count; i++) {
    const struct limit *limit = &packs->limits[i];
    if (!seen[i])
      continue;
    if (!any)
      heading_print("LIMITS (A JOB SHEET MAY SET OTHERS, WITH A REASON)");
    any = true;
    const char *value = quantity_print(arena, limit->value, NULL, 0.0);
    const char *line =
        arena_print(arena, "%.*s = %s. %s Basis: %s.", SLICE_ARG(limit->name), value,
                    limit->why != NULL ? limit->why : "", limit->basis != NULL ? limit->basis : "none given");
    wrap_print(stdout, WRAP_WIDTH, MARGIN, MARGIN + 2, "", line);
  }
}

static void cautions_print(const struct packs *packs, const struct rule *rule)
{
  if (rule->caution_count > 0)
    heading_print("CAUTIONS");
  for (size_t i = 0; i < packs->caution_count; i++) {
    const struct caution_text *caution = &packs->cautions[i];
    for (size_t j = 0; j < rule->caution_count; j++) {
      if (strcmp(rule->cautions[j], caution->id) != 0)
        continue;
      printf("  %s %s\n", caution->word, caution->id);
      wrap_print(stdout, WRAP_WIDTH, MARGIN + 2, MARGIN + 2, "", caution->text);
    }
  }
}

/* Lines of a file from a node's first byte to the end of its last line, moved left by the column it stands in. */
static void lines_print(struct arena *arena, struct sources *sources, const struct rule *rule, struct place place)
{
  struct position position;
  if (!sources_position(sources, place, &position))
    return;
  struct slice bytes = rule->source->bytes;
  size_t at = (size_t)place.start, end = (size_t)place.end;
  while (end < bytes.size && bytes.at[end] != '\n')
    end++;
  for (bool first = true; at < end; first = false) {
    for (uint64_t i = 1; !first && i < position.column && at < end && bytes.at[at] == ' '; i++)
      at++;
    const char *stop = memchr(bytes.at + at, '\n', end - at);
    size_t to = stop != NULL ? (size_t)(stop - bytes.at) : end;
    size_t shown = to;
    while (shown > at && (bytes.at[shown - 1] == ' ' || bytes.at[shown - 1] == '\r'))
      shown--;
    if (shown > at)
      printf("    %s\n", escape_line(arena, slice_part(bytes, at, shown)));
    else
      putchar('\n');
    at = to + 1;
  }
}

static void example_print(struct arena *arena, struct sources *sources, const struct rule *rule)
{
  if (rule->cases == NULL || rule->cases->kind != NODE_LIST)
    return;
  for (size_t i = 0; i < rule->cases->count; i++) {
    const struct node *one = &rule->cases->items[i], *expect = node_get(one, "expect");
    if (expect == NULL || !slice_is(expect->text, "flag"))
      continue;
    heading_print("AN EXAMPLE THAT FLAGS");
    lines_print(arena, sources, rule, one->place);
    return;
  }
}

static void explain_print(struct arena *arena, struct sources *sources, const struct packs *packs,
                          const struct rule *rule)
{
  head_print(arena, sources, rule);
  section_print("WHY IT MATTERS", rule->why);
  section_print("WHAT TO DO", rule->act);
  section_print("HOW TO PROVE IT BY HAND", rule->verify);
  section_print("WHEN IT IS MEANT TO BE SO", rule->by_design);
  test_print(arena, rule);
  phases_print(arena, packs, rule);
  limits_print(arena, packs, rule);
  section_print("BASIS", rule->basis);
  example_print(arena, sources, rule);
  cautions_print(packs, rule);
}

enum status explain_command(struct run *run, const struct line *line)
{
  struct problems problems;
  problems_init(&problems, run->arena, PROBLEM_OF_USAGE);
  size_t rules_count;
  const char *const *rules = line_values(run->arena, line, OPTION_RULES, &rules_count);
  struct library library;
  bool read = library_read(run->arena, run->sources, LIBRARY_WHOLE, rules, rules_count, &library, &problems);
  sources_name(run->sources, NULL);
  if (!read)
    return command_refuse(run, &problems);
  struct slice id = slice_of(line->arguments[0]);
  const struct rule *rule = packs_find(library.packs, id);
  if (rule == NULL) {
    problems.of = PROBLEM_OF_USAGE;
    problems_add(&problems, PLACE_NONE, "unknown rule '%.*s'", SLICE_ARG(id));
    const struct rule *nearest = packs_nearest(library.packs, id);
    if (nearest != NULL)
      problems_hint(&problems, "did you mean '%.*s'?", SLICE_ARG(nearest->id));
    else
      problems_hint(&problems, "'keyway list' names the rules");
    return command_refuse(run, &problems);
  }
  explain_print(run->arena, run->sources, library.packs, rule);
  return STATUS_CLEAN;
}
