/* Sharing: equal sub-expressions of all rules have one slot and are computed once an audit; those that look alike but
 * differ are kept apart. Also: what a pack may not grow to. */
#include "rules_help.h"

#include "expr/ast.h"

static const struct expr *flag_of(const struct shop *shop, const char *id)
{
  const struct rule *rule = packs_find(shop->packs, slice_of(id));
  assert_non_null(rule);
  return rule->checks[0].flag;
}

#define FLAG(id, flag) RULE(id, "    flag: " flag "\n    say: nothing\n")

static void equal_expressions_have_one_slot(void **state)
{
  (void)state;
  struct shop shop = shop_of(PACK "rules:\n" FLAG("a", "mean(log.gear) > 3") FLAG("b", "mean( log.gear )>3") FLAG(
      "c", "(mean(log.gear)) > (3)") FLAG("d", "mean(log.gear) > 3 or mean(log.gear) > 4"));
  size_t slot = flag_of(&shop, "a")->slot;
  assert_int_equal(flag_of(&shop, "b")->slot, slot);
  assert_int_equal(flag_of(&shop, "c")->slot, slot);
  assert_int_equal(flag_of(&shop, "d")->args[0]->slot, slot);
  assert_true(flag_of(&shop, "d")->args[1]->slot != slot);
  assert_int_equal(flag_of(&shop, "d")->args[1]->args[0]->slot, flag_of(&shop, "a")->args[0]->slot);
  /* a, b, c: log.gear mean 3 >, each; d: twice that and `or`. Distinct: log.gear mean 3 > 4 > or. */
  assert_int_equal(graph_written(shop.packs->graph), 3 * 4 + 9);
  assert_int_equal(graph_distinct(shop.packs->graph), 7);
  shop_close(&shop);
}

static void what_differs_has_its_own(void **state)
{
  static const char *const flags[] = {
      "1 > 0",
      "1 > 0 %",
      "100 % > 0",
      "1 deg > 0 deg",
      "1 deg > 0 rad",
      "0 > 1",
      "1 >= 0",
      "1 != 0",
      "tune.file.title == \"a\"",
      "tune.file.title == \"b\"",
      "tune.file.note == \"a\"",
      "tune.file.title in [\"a\"]",
      "tune.file.title in [\"a\", \"b\"]",
      "tune.file.title in [\"b\", \"a\"]",
      "true",
      "false",
      "mean(log.gear) > 0",
      "median(log.gear) > 0",
      "mean(job.coolant.measured) > 0 degC",
      "mean(job.coolant.logged) > 0 degC",
      "highest(x, over x from 0 to 1) > 0",
      "highest(y, over y from 0 to 1) > 0",
      "highest(x, over x from 0 to 2) > 0",
      "lowest(x, over x from 0 to 1) > 0",
      "tune.fuel.overrun_cut",
      "before.fuel.overrun_cut",
      "not tune.fuel.overrun_cut",
      "stage == \"look\"",
  };
  (void)state;
  size_t count = sizeof flags / sizeof *flags;
  struct arena *arena = arena_new();
  const char *pack = PACK "rules:\n";
  for (size_t i = 0; i < count; i++)
    pack = arena_print(arena, "%s" HEAD("r%02zu") SEVERITY "    flag: '%s'\n    say: nothing\n" TAIL, pack, i, i,
                       flags[i]);
  struct shop shop = shop_of(pack);
  for (size_t i = 0; i < count; i++) {
    for (size_t k = 0; k < i; k++) {
      if (flag_of(&shop, arena_print(arena, "r%02zu", i))->slot ==
          flag_of(&shop, arena_print(arena, "r%02zu", k))->slot)
        fail_msg("%s and %s share a slot", flags[i], flags[k]);
    }
  }
  shop_close(&shop);
  arena_free(arena);
}

static const char *const small_log = "time (s),gear,fan_output\n0,1,1\n1,2,1\n2,9,1\n";

/* A sub-expression of many rules is computed once; one that depends on the item of `each`, once an item. */
static void shared_expressions_are_computed_once(void **state)
{
  (void)state;
  struct audit_stats one, many;
  struct shop shop = shop_of(PACK "rules:\n" FLAG("a", "percentile(smooth(log.gear, 1 s), 95 %) > 100"));
  shop_audit(&shop, (struct work_order){.log = small_log}, &one);
  shop_close(&shop);
  shop = shop_of(PACK "rules:\n" FLAG("a", "percentile(smooth(log.gear, 1 s), 95 %) > 100") FLAG(
      "b", "percentile(smooth(log.gear, 1 s), 95 %) > 100") FLAG("c", "percentile(smooth(log.gear, 1 s), 95 %) > 200"));
  shop_audit(&shop, (struct work_order){.log = small_log}, &many);
  shop_close(&shop);
  assert_int_equal(one.evaluated, 7); /* log.gear, 1 s, smooth, 95 %, percentile, 100, > */
  assert_int_equal(one.reused, 0);
  assert_int_equal(many.evaluated, 9); /* and 200, > */
  assert_int_equal(many.reused, 2);    /* b: >; c: percentile */
  assert_int_equal(many.expressions, 21);
  assert_int_equal(many.distinct, 9);
}

static void items_are_computed_one_by_one(void **state)
{
  (void)state;
  struct audit_stats stats;
  struct shop shop =
      shop_of(PACK "rules:\n" RULE("a", "    each: p in points(tune.fuel.warm_up_enrichment)\n    where: p.value > 0 "
                                        "%\n    flag: p.value > max(log.gear) * 1000\n"
                                        "    say: nothing\n"));
  const struct outcome *outcome = shop_audit(
      &shop,
      (struct work_order){.log = small_log,
                          .settings =
                              "fuel.warm_up_enrichment: {x: {unit: degC, at: [0, 20, 80]}, value: [130, 110, 100]}\n"},
      &stats);
  assert_int_equal(outcome->verdicts[VERDICT_CLEAR], 1);
  /* points, curve; 0 %, max, log.gear, 1000, product once; p, p.value, > and > for each of three points. */
  assert_int_equal(stats.evaluated, 7 + 3 * 4);
  assert_int_equal(stats.reused, 3 + 2 * 2); /* p.value in flag; 0 % and the product from the second point on */
  shop_close(&shop);
}

/* The same answers whether a rule stands alone or among others, and in whichever order. */
static void sharing_changes_no_answer(void **state)
{
  static const char *const flags[] = {"mean(log.gear) == 4",
                                      "mean(log.gear) > 4",
                                      "max(log.gear) - min(log.gear) == 8",
                                      "any(log.gear > 4 and log.fan_output)",
                                      "all(log.fan_output)",
                                      "share(log.gear > 1) == 50 %",
                                      "any(log.gear > 4 and log.brake_switch)",
                                      "tune.ignition.fixed_advance > 3 deg"};
  (void)state;
  size_t count = sizeof flags / sizeof *flags;
  struct arena *arena = arena_new();
  enum verdict alone[16] = {VERDICT_COUNT};
  for (int turn = 0; turn < 3; turn++) {
    const char *pack = PACK "rules:\n";
    for (size_t i = 0; i < count; i++) {
      size_t at = turn == 2 ? count - 1 - i : i;
      const char *own =
          arena_print(arena, HEAD("r%02zu") SEVERITY "    flag: '%s'\n    say: nothing\n" TAIL, at, at, flags[at]);
      pack = arena_print(arena, "%s%s", turn == 0 ? PACK "rules:\n" : pack, own);
      if (turn > 0 && i + 1 < count)
        continue;
      struct shop shop = shop_of(pack);
      const struct outcome *outcome = shop_audit(&shop, (struct work_order){.log = small_log}, NULL);
      if (turn == 0) {
        for (size_t v = 0; v < VERDICT_COUNT; v++)
          alone[at] = outcome->verdicts[v] == 1 ? (enum verdict)v : alone[at];
        shop_close(&shop);
        continue;
      }
      for (size_t k = 0; k < count; k++) {
        const char *id = arena_print(arena, "r%02zu", k);
        bool flagged = false, undecided = false;
        for (size_t f = 0; f < outcome->finding_count; f++)
          flagged = flagged || strcmp(outcome->findings[f].id, id) == 0;
        for (size_t u = 0; u < outcome->undecided_count; u++)
          undecided = undecided || strcmp(outcome->undecided[u].rule, id) == 0;
        enum verdict got = flagged ? VERDICT_FLAGGED : undecided ? VERDICT_UNDECIDED : VERDICT_CLEAR;
        assert_int_equal(got, alone[k]);
      }
      shop_close(&shop);
    }
  }
  arena_free(arena);
}

/* Forty lets, each twice the one before, are a million million operands when written out. */
static void lets_that_double_are_refused(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  const char *lets = "      a0: tune.ignition.fixed_advance\n";
  for (int i = 1; i <= 40; i++)
    lets = arena_print(arena, "%s      a%d: a%d + a%d\n", lets, i, i - 1, i - 1);
  struct shop shop = SHOP(arena_print(
      arena, PACK "rules:\n" HEAD("r") SEVERITY "    let:\n%s    flag: a40 > 5 deg\n    say: nothing\n" TAIL, lets));
  assert_null(shop.packs);
  shop_close(&shop);
  /* A long chain of lets is deep rather than wide. */
  lets = "      a0: tune.ignition.fixed_advance\n";
  for (int i = 1; i <= 2000; i++)
    lets = arena_print(arena, "%s      a%d: -a%d\n", lets, i, i - 1);
  shop = SHOP(arena_print(
      arena, PACK "rules:\n" HEAD("r") SEVERITY "    let:\n%s    flag: a2000 > 5 deg\n    say: nothing\n" TAIL, lets));
  assert_null(shop.packs);
  shop_close(&shop);
  arena_free(arena);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(equal_expressions_have_one_slot),
      cmocka_unit_test(what_differs_has_its_own),
      cmocka_unit_test(shared_expressions_are_computed_once),
      cmocka_unit_test(items_are_computed_one_by_one),
      cmocka_unit_test(sharing_changes_no_answer),
      cmocka_unit_test(lets_that_double_are_refused),
  };
  return cmocka_run_group_tests_name("rules graph", tests, NULL, NULL);
}
