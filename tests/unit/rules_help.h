/* Rule packs out of text, and audits of texts with them. Included by the tests of rules/ and audit/ only. */
#ifndef KEYWAY_TESTS_RULES_HELP_H
#define KEYWAY_TESTS_RULES_HELP_H

#include "reading.h"

#include "audit/audit.h"
#include "read/job.h"
#include "read/log.h"
#include "read/settings.h"

#define CAUTIONS                                                                                     \
  "cautions:\n"                                                                                      \
  "  - {id: practice, word: WARNING, text: Local law and a qualified person decide., defers: yes}\n" \
  "  - {id: heat, word: CAUTION, text: Hot parts burn.}\n"
#define PACK "keyway-rules: 1\npack: shop\nabout: for tests\n"
#define HEAD(id) "  - rule: " id "\n    title: Title of " id "\n    topic: tests\n"
#define SEVERITY "    severity: {look: note, dyno: check, delivery: fix}\n"
#define TAIL \
  "    why: w\n    do: d\n    verify: v\n    by_design: b\n    basis: common practice\n    cautions: [practice]\n"
/* A whole rule; `body` is lines of four blanks before each key. */
#define RULE(id, body) HEAD(id) SEVERITY body TAIL
#define SIMPLE(id) \
  RULE(id, "    flag: tune.ignition.fixed_advance > 5 deg\n    say: It is {tune.ignition.fixed_advance}.\n")

enum { MOST_PACKS = 4 };

struct shop { /* a run with packs */
  struct run run;
  const struct packs *packs; /* NULL: refused */
};

/* Packs are called pack1.yaml, pack2.yaml ... */
static inline struct shop shop_open(const char *const *texts, size_t count)
{
  struct shop shop = {.run = run_new()};
  struct run *run = &shop.run;
  run_vocabulary(run);
  const struct source *sources[MOST_PACKS] = {NULL};
  const struct source *cautions = sources_memory(run->sources, "cautions.yaml", slice_of(CAUTIONS));
  assert_true(count <= MOST_PACKS);
  for (size_t i = 0; i < count; i++)
    sources[i] = sources_memory(run->sources, arena_print(run->arena, "pack%zu.yaml", i + 1), slice_of(texts[i]));
  const struct names *names = audit_names(run->arena, run->vocabulary);
  shop.packs = packs_read(run->arena, names, cautions, sources, count, &run->problems);
  assert_int_equal(shop.packs == NULL, run->problems.count > 0);
  return shop;
}

#define SHOP(...) \
  shop_open((const char *const[]){__VA_ARGS__}, sizeof((const char *const[]){__VA_ARGS__}) / sizeof(const char *))

/* With packs that are in order. */
static inline struct shop shop_of(const char *pack)
{
  struct shop shop = SHOP(pack);
  if (!shop.packs)
    fail_msg("the pack is refused: %s", run_said(&shop.run));
  return shop;
}

static inline void shop_close(struct shop *shop)
{
  run_free(&shop->run);
}

struct work_order { /* texts; NULL: none. settings and job without their first lines */
  const char *settings, *job, *log, *before;
  const char *stage; /* NULL: delivery */
};

static inline const struct outcome *shop_audit(struct shop *shop, struct work_order order, struct audit_stats *stats)
{
  struct run *run = &shop->run;
  struct subject *subject = ARENA_NEW(run->arena, struct subject);
  const char *head = "keyway-settings: 1\n";
  const char *text = arena_print(run->arena, "%s%s", head, order.settings ? order.settings : "file.title: none\n");
  const struct log_options log_options = {0};
  struct audit_options options = {.stage = STAGE_DELIVERY};
  subject->vocabulary = run->vocabulary;
  subject->settings = settings_read(run->arena, run->vocabulary,
                                    sources_memory(run->sources, "settings.yaml", slice_of(text)), &run->problems);
  if (order.before)
    subject->before = settings_read(
        run->arena, run->vocabulary,
        sources_memory(run->sources, "before.yaml", slice_of(arena_print(run->arena, "%s%s", head, order.before))),
        &run->problems);
  if (order.job)
    subject->job = job_read(
        run->arena, run->vocabulary,
        sources_memory(run->sources, "job.yaml", slice_of(arena_print(run->arena, "keyway-job: 1\n%s", order.job))),
        &run->problems);
  if (order.log)
    subject->log = log_read(run->arena, run->vocabulary, sources_memory(run->sources, "log.csv", slice_of(order.log)),
                            &log_options, &run->problems);
  if (subject->job)
    audit_check_job(shop->packs, subject->job, &run->problems);
  if (run->problems.count > 0)
    fail_msg("the inputs are refused: %s", run_said(run));
  if (order.stage)
    assert_true(stage_find(slice_of(order.stage), &options.stage));
  return audit_run(run->arena, shop->packs, subject, run->sources, &options, stats);
}

#endif
