/* The rule language on a bench: expressions compiled and evaluated over settings, a job sheet and a log that a test
 * gives as text. Included by the tests of expr/ only. */
#ifndef KEYWAY_TESTS_EXPR_HELP_H
#define KEYWAY_TESTS_EXPR_HELP_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#include "audit/audit.h"
#include "base/limits.h"
#include "base/source.h"
#include "expr/eval.h"
#include "read/job.h"
#include "read/log.h"
#include "read/settings.h"
#include "read/vocabulary.h"

/* What all tests of a program share: the shipped dictionary. */
struct dictionary {
  struct arena *arena;
  struct sources *sources;
  const struct vocabulary *vocabulary;
};

struct bench {
  struct arena *arena;
  struct sources *sources;
  struct problems problems;
  const struct vocabulary *vocabulary;
  const struct packs *packs; /* only for its limits: the names and the graph */
  struct eval_inputs inputs;
  const struct expr *last; /* compiled last */
};

struct given { /* texts; NULL: no such input. settings and job without their first lines */
  const char *settings, *before, *job, *log, *limits;
};

static inline int dictionary_open(void **state)
{
  struct dictionary *dictionary = calloc(1, sizeof *dictionary);
  struct problems problems;
  if (!dictionary)
    return -1;
  dictionary->arena = arena_new();
  dictionary->sources = sources_new(dictionary->arena);
  problems_init(&problems, dictionary->arena, PROBLEM_OF_PACK);
  const struct source *source = sources_open(dictionary->sources, "rules/dictionary.yaml", LIMIT_YAML_BYTES, &problems);
  dictionary->vocabulary = source ? vocabulary_read(dictionary->arena, source, &problems) : NULL;
  *state = dictionary;
  if (!dictionary->vocabulary)
    print_error("rules/dictionary.yaml: %s\n", problems.count > 0 ? problems.items[0].message : "no problem was told");
  return dictionary->vocabulary ? 0 : -1;
}

static inline int dictionary_close(void **state)
{
  struct dictionary *dictionary = *state;
  arena_free(dictionary->arena);
  free(dictionary);
  return 0;
}

static inline void bench_fail(const struct bench *bench, const char *what)
{
  const char *message = bench->problems.count > 0 ? bench->problems.items[0].message : "no problem was told";
  fail_msg("%s: %s", what, message);
}

static inline const struct source *bench_source(struct bench *bench, const char *name, const char *head,
                                                const char *body)
{
  return sources_memory(bench->sources, name, slice_of(arena_print(bench->arena, "%s%s", head, body)));
}

static inline const struct packs *bench_packs(struct bench *bench, const char *limits)
{
  const struct source *cautions = bench_source(bench, "cautions.yaml", "cautions: []\n", "");
  const struct source *pack = bench_source(bench, "pack.yaml", "keyway-rules: 1\npack: bench\n", limits ? limits : "");
  const struct names *names = audit_names(bench->arena, bench->vocabulary);
  return packs_read(bench->arena, names, cautions, &pack, 1, &bench->problems);
}

static inline struct bench bench_new(void **state, struct given given)
{
  const struct dictionary *dictionary = *state;
  struct bench bench = {.arena = arena_new(), .vocabulary = dictionary->vocabulary};
  bench.sources = sources_new(bench.arena);
  problems_init(&bench.problems, bench.arena, PROBLEM_OF_INPUT);
  bench.packs = bench_packs(&bench, given.limits);
  if (!bench.packs)
    bench_fail(&bench, "limits");
  const char *head = "keyway-settings: 1\n";
  const char *texts[] = {given.settings ? given.settings : "file.title: bench\n", given.before};
  const struct settings *settings[2] = {NULL, NULL};
  for (size_t i = 0; i < 2; i++) {
    if (texts[i])
      settings[i] = settings_read(bench.arena, bench.vocabulary, bench_source(&bench, "settings.yaml", head, texts[i]),
                                  &bench.problems);
    if (texts[i] && !settings[i])
      bench_fail(&bench, "settings");
  }
  const struct job *job = NULL;
  if (given.job)
    job = job_read(bench.arena, bench.vocabulary, bench_source(&bench, "job.yaml", "keyway-job: 1\n", given.job),
                   &bench.problems);
  const struct log *log = NULL;
  const struct log_options options = {0};
  if (given.log)
    log = log_read(bench.arena, bench.vocabulary, bench_source(&bench, "log.csv", "", given.log), &options,
                   &bench.problems);
  if ((given.job && !job) || (given.log && !log))
    bench_fail(&bench, "job sheet or log");
  struct quantity *limits = ARENA_ARRAY(bench.arena, bench.packs->limit_count + 1, struct quantity);
  for (size_t i = 0; i < bench.packs->limit_count; i++)
    limits[i] = bench.packs->limits[i].value;
  bench.inputs = (struct eval_inputs){.limits = limits, .names = bench.packs->names, .stage = slice_of("delivery")};
  bench.inputs.values[NAME_TUNE] = (const struct value *const *)settings[0]->values;
  bench.inputs.values[NAME_LOG] = log ? (const struct value *const *)log->values : NULL;
  bench.inputs.values[NAME_JOB] = job ? (const struct value *const *)job->values : NULL;
  bench.inputs.values[NAME_BEFORE] = settings[1] ? (const struct value *const *)settings[1]->values : NULL;
  return bench;
}

static inline void bench_free(struct bench *bench)
{
  arena_free(bench->arena);
}

static inline struct place bench_place(const void *context, size_t from, size_t to)
{
  const struct source *source = context;
  return (struct place){source->id, from, to};
}

/* NULL when refused; then its problems are the only ones. "let NAME = EXPR: EXPR" gives a name as `let` of a rule does.
 */
static inline const struct expr *bench_compile(struct bench *bench, const char *text, const struct scope_chain *chain)
{
  const char *is = strncmp(text, "let ", 4) == 0 ? strstr(text, " = ") : NULL, *colon = is ? strstr(is, ": ") : NULL;
  if (colon) {
    struct scope_chain link = {.name = {text + 4, (size_t)(is - text) - 4}, .outer = chain};
    struct slice value = {is + 3, (size_t)(colon - is) - 3};
    link.value = bench_compile(bench, arena_text(bench->arena, value), chain);
    return link.value ? bench_compile(bench, colon + 2, &link) : NULL;
  }
  const struct source *source = bench_source(bench, "expression", "", text);
  struct locator locator = {bench_place, source};
  problems_init(&bench->problems, bench->arena, PROBLEM_OF_PACK);
  bench->last = expr_compile(bench->arena, bench->packs->graph, bench->packs->names, source->bytes, chain, &locator,
                             &bench->problems);
  return bench->last;
}

static inline struct evaluation *bench_evaluation(struct bench *bench)
{
  return evaluation_new(bench->arena, bench->packs->graph, &bench->inputs);
}

static inline struct result bench_eval(struct bench *bench, const char *text)
{
  const struct expr *expr = bench_compile(bench, text, NULL);
  if (!expr)
    bench_fail(bench, text);
  return evaluate(bench_evaluation(bench), expr);
}

/* One value, or the samples of a series with commas between: "900 rpm, ?, 910 rpm". */
static inline const char *bench_print(struct bench *bench, const struct result *result, const struct type *type)
{
  if (!type->series || !result->known)
    return result_print(bench->arena, result, type, NULL, 0);
  const char *out = "";
  struct type one = *type;
  one.series = false;
  for (size_t i = 0; i < result->series.count; i++) {
    struct result sample = *result;
    sample.known = !result->series.known || result->series.known[i];
    sample.number = result->series.at ? result->series.at[i] : 0;
    sample.on = result->series.on && result->series.on[i];
    out =
        arena_print(bench->arena, "%s%s%s", out, i > 0 ? ", " : "", result_print(bench->arena, &sample, &one, NULL, 0));
  }
  return out;
}

/* EXPR, or "each NAME in COLLECTION: EXPR", whose values are printed with semicolons between. */
static inline const char *bench_show(struct bench *bench, const char *text)
{
  if (strncmp(text, "each ", 5) != 0) {
    struct result result = bench_eval(bench, text);
    return bench_print(bench, &result, expr_type(bench->last));
  }
  const char *in = strstr(text, " in "), *colon = in ? strstr(in, ": ") : NULL;
  assert_non_null(colon);
  struct slice name = {text + 5, (size_t)(in - text) - 5};
  struct slice collection = {in + 4, (size_t)(colon - in) - 4};
  const struct expr *each = bench_compile(bench, arena_text(bench->arena, collection), NULL);
  if (!each)
    bench_fail(bench, text);
  assert_int_equal(expr_type(each)->kind, TYPE_COLLECTION);
  struct scope_chain link = {name, NULL, {.kind = TYPE_ITEM, .item = expr_type(each)->item}, NULL};
  const struct expr *expr = bench_compile(bench, colon + 2, &link);
  if (!expr)
    bench_fail(bench, text);
  struct evaluation *evaluation = bench_evaluation(bench);
  struct result all = evaluate(evaluation, each);
  const char *out = all.known ? "" : "?";
  for (size_t i = 0; all.known && i < all.collection->count; i++) {
    evaluation_item(evaluation, &all.collection->items[i]);
    struct result result = evaluate(evaluation, expr);
    out = arena_print(bench->arena, "%s%s%s", out, i > 0 ? "; " : "", bench_print(bench, &result, expr_type(expr)));
  }
  return out;
}

/* The number of a known result, in its own unit or, with a name, in that one. */
static inline double bench_number(struct bench *bench, const char *text, const char *unit)
{
  struct result result = bench_eval(bench, text);
  if (!result.known)
    fail_msg("%s: unknown, for want of %s", text, result.missing->count ? result.missing->names[0] : "nothing");
  const char *why = NULL;
  const struct unit *in = unit_read(bench->arena, slice_of(unit), &why);
  if (!in)
    fail_msg("%s: %s", text, why);
  return unit_from_base(in, result.number);
}

/* Within a relative difference, or an absolute one near 0. */
static inline void expect_near(const char *what, double got, double wanted, double tolerance)
{
  if (!(fabs(got - wanted) <= tolerance * fmax(1, fabs(wanted))))
    fail_msg("%s: %.17g, not %.17g", what, got, wanted);
}

static inline void expect_shown(struct bench *bench, const char *text, const char *wanted)
{
  const char *got = bench_show(bench, text);
  if (strcmp(got, wanted) != 0)
    fail_msg("%s\n    is %s\n   not %s", text, got, wanted);
}

/* The names and reasons for which an expression is unknown, with "; " between; "known" when it is not. */
static inline const char *bench_missing(struct bench *bench, const char *text)
{
  struct result result = bench_eval(bench, text);
  const char *out = "";
  if (result.known)
    return "known";
  for (size_t i = 0; result.missing && i < result.missing->count; i++)
    out = arena_print(bench->arena, "%s%s%s", out, i > 0 ? "; " : "", result.missing->names[i]);
  return out;
}

static inline void expect_missing(struct bench *bench, const char *text, const char *wanted)
{
  const char *got = bench_missing(bench, text);
  if (strcmp(got, wanted) != 0)
    fail_msg("%s\n    lacks %s\n   not %s", text, got, wanted);
}

/* Repeatable numbers (splitmix64, Steele, Lea and Flood 2014). */
static inline uint64_t chance_next(uint64_t *seed)
{
  uint64_t x = *seed += 0x9e3779b97f4a7c15u;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9u;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebu;
  return x ^ (x >> 31);
}

static inline double chance_real(uint64_t *seed) /* 0 to below 1 */
{
  return (double)(chance_next(seed) >> 11) / 9007199254740992.0;
}

#endif
