/* Packs together: replaced and silenced rules, limits of several packs, duplicates, order; and where a mistake inside
 * an expression stands, for each way in which YAML can write it. */
#include "rules_help.h"

static void rules_are_sorted_by_topic_and_id(void **state)
{
  (void)state;
  struct shop shop =
      SHOP(PACK "rules:\n" SIMPLE("zebra") SIMPLE("ant") "  - rule: mole\n    title: t\n    topic: early\n" SEVERITY
                                                         "    flag: false\n    say: nothing\n" TAIL,
           PACK "rules:\n" SIMPLE("newt"));
  assert_non_null(shop.packs);
  static const char *const wanted[] = {"mole", "ant", "newt", "zebra"};
  assert_int_equal(shop.packs->rule_count, 4);
  for (size_t i = 0; i < 4; i++)
    assert_string_equal(shop.packs->rules[i]->id.at, wanted[i]);
  assert_string_equal(packs_find(shop.packs, slice_of("ant"))->title, "Title of ant");
  assert_null(packs_find(shop.packs, slice_of("an")));
  assert_string_equal(packs_nearest(shop.packs, slice_of("zebr"))->id.at, "zebra");
  assert_null(packs_nearest(shop.packs, slice_of("elephant")));
  shop_close(&shop);
}

static void a_rule_is_there_once(void **state)
{
  (void)state;
  struct shop shop = SHOP(PACK "rules:\n" SIMPLE("twice") SIMPLE("twice"));
  assert_null(shop.packs);
  assert_string_equal(run_said(&shop.run),
                      "17:11 'twice' a rule 'twice' is already there, in the pack 'shop' | a pack replaces a "
                      "rule with 'replaces: yes'");
  shop_close(&shop);
  shop = SHOP(PACK "rules:\n" SIMPLE("twice"), "keyway-rules: 1\npack: other\nrules:\n" SIMPLE("twice"));
  assert_null(shop.packs);
  assert_string_equal(run_said(&shop.run),
                      "4:11 'twice' a rule 'twice' is already there, in the pack 'shop' | a pack replaces a "
                      "rule with 'replaces: yes'");
  shop_close(&shop);
}

static void a_later_pack_replaces_a_rule_by_name(void **state)
{
  (void)state;
  struct shop shop =
      SHOP(PACK "rules:\n" SIMPLE("old") SIMPLE("other"),
           "keyway-rules: 1\npack: mine\nrules:\n" RULE("old", "    replaces: yes\n    flag: true\n    say: mine\n"));
  assert_non_null(shop.packs);
  assert_int_equal(shop.packs->rule_count, 2);
  assert_string_equal(packs_find(shop.packs, slice_of("old"))->pack, "mine");
  assert_int_equal(shop.packs->silenced_count, 1);
  assert_string_equal(shop.packs->silenced[0].rule, "old");
  assert_string_equal(shop.packs->silenced[0].how, "replaced");
  assert_string_equal(shop.packs->silenced[0].pack, "mine");
  const struct outcome *outcome = shop_audit(&shop, (struct work_order){0}, NULL);
  assert_int_equal(outcome->verdicts[VERDICT_FLAGGED], 1);
  assert_string_equal(outcome->findings[0].message, "mine");
  assert_int_equal(outcome->silenced_count, 1);
  assert_string_equal(outcome->silenced[0], "old: replaced (pack 'mine')");
  shop_close(&shop);
}

static void a_later_pack_silences_a_rule_with_a_reason(void **state)
{
  (void)state;
  struct shop shop = SHOP(PACK "rules:\n" SIMPLE("loud") SIMPLE("other"),
                          "keyway-rules: 1\npack: mine\nsilence: {loud: the workshop has its own sheet}\nrules: []\n");
  assert_non_null(shop.packs);
  assert_int_equal(shop.packs->rule_count, 1);
  assert_null(packs_find(shop.packs, slice_of("loud")));
  assert_string_equal(shop.packs->silenced[0].how, "silenced: the workshop has its own sheet");
  const struct outcome *outcome = shop_audit(&shop, (struct work_order){0}, NULL);
  assert_string_equal(outcome->silenced[0], "loud: silenced: the workshop has its own sheet (pack 'mine')");
  shop_close(&shop);
  /* Without a reason it is not. */
  shop = SHOP(PACK "rules:\n" SIMPLE("loud"), "keyway-rules: 1\npack: mine\nsilence: {loud: ' '}\nrules: []\n");
  assert_null(shop.packs);
  assert_string_equal(run_said(&shop.run), "3:17 '' '' a rule is silenced with a reason | -");
  shop_close(&shop);
}

#define LIMITS(name, value, step) \
  "limits:\n  " name ": {value: " value ", step: " step ", basis: common practice, why: because}\n"

/* A rule may use the limits of any pack, also of one that is read later; a limit is there once. */
static void limits_of_all_packs(void **state)
{
  (void)state;
  struct shop shop = SHOP(PACK LIMITS("late", "90 degC", "1 degC_diff") "rules:\n" RULE(
                              "early", "    flag: limit.ready > limit.late\n    say: '{limit.ready} {limit.late}'\n"),
                          "keyway-rules: 1\npack: mine\n" LIMITS("ready", "212 degF", "1 degF_diff"));
  assert_non_null(shop.packs);
  assert_int_equal(shop.packs->limit_count, 2);
  const struct limit *ready = packs_limit(shop.packs, slice_of("ready"));
  assert_string_equal(ready->pack, "mine");
  assert_string_equal(ready->value.unit->name, "degF");
  assert_null(packs_limit(shop.packs, slice_of("read")));
  const struct outcome *outcome = shop_audit(&shop, (struct work_order){0}, NULL);
  assert_string_equal(outcome->findings[0].message, "212 degF 90 degC");
  /* A job sheet's own limit takes its place; a bare number is in the unit of the pack. */
  struct shop again = SHOP(PACK LIMITS("late", "90 degC", "1 degC_diff") "rules:\n" RULE(
                               "early", "    flag: limit.ready > limit.late\n    say: '{limit.ready}'\n"),
                           "keyway-rules: 1\npack: mine\n" LIMITS("ready", "212 degF", "1 degF_diff"));
  outcome = shop_audit(&again, (struct work_order){.job = "limits: {ready: {value: 194.1, reason: a sheet}}\n"}, NULL);
  assert_string_equal(outcome->findings[0].message, "194.1 degF");
  assert_int_equal(outcome->changed_count, 1);
  assert_string_equal(outcome->changed[0].reason, "a sheet");
  shop_close(&again);
  again = SHOP(PACK LIMITS("late", "90 degC", "1 degC_diff") "rules:\n" RULE(
                   "early", "    flag: limit.ready > limit.late\n    say: '{limit.ready}'\n"),
               "keyway-rules: 1\npack: mine\n" LIMITS("ready", "212 degF", "1 degF_diff"));
  outcome =
      shop_audit(&again, (struct work_order){.job = "limits: {ready: {value: 90 degC, reason: a sheet}}\n"}, NULL);
  assert_int_equal(outcome->verdicts[VERDICT_CLEAR], 1);
  shop_close(&again);
  shop_close(&shop);
  shop = SHOP(PACK LIMITS("one", "3 kPa", "1 kPa") "rules: []\n",
              "keyway-rules: 1\npack: mine\n" LIMITS("one", "4 kPa", "1 kPa"));
  assert_null(shop.packs);
  assert_string_equal(run_said(&shop.run), "4:3 'one' limit.one is already there, in the pack 'shop' | -");
  shop_close(&shop);
}

static const struct wrong limits[] = {
    {"value: 80 degC, step: 1 degC, basis: derived, why: w",
     "4:31 '1 degC' a step is a difference above 0 of the same kind as the value | -"},
    {"value: 80 degC, step: 0 K, basis: derived, why: w",
     "4:31 '0 K' a step is a difference above 0 of the same kind as the value | -"},
    {"value: 80 degC, step: 1 kPa, basis: derived, why: w",
     "4:31 '1 kPa' a step is a difference above 0 of the same kind as the value | -"},
    {"value: 80 kPa, step: -1 kPa, basis: derived, why: w",
     "4:30 '-1 kPa' a step is a difference above 0 of the same kind as the value | -"},
    {"value: hot, step: 1 kPa, basis: derived, why: w", "4:16 'hot' 'hot' is not a number with a unit | -"},
    {"value: 3 kPo, step: 1 kPa, basis: derived, why: w", "4:16 '3 kPo' unknown unit 'kPo'; did you mean 'kPa'? | -"},
};

static void limits_that_are_none(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  for (size_t i = 0; i < sizeof limits / sizeof *limits; i++) {
    struct shop shop = SHOP(arena_print(arena, "keyway-rules: 1\npack: shop\nlimits:\n  odd: {%s}\n", limits[i].bytes));
    assert_null(shop.packs);
    assert_string_equal(run_said(&shop.run), limits[i].said);
    shop_close(&shop);
  }
  arena_free(arena);
}

/* One mistake, written in every way that YAML has; the marked bytes are those of the mistake, in the file. */
static const struct wrong scalars[] = {
    {"    flag: true and tune.nope > 3\n", "9:20 'tune.nope'"},
    {"    flag: 'true and tune.nope > 3'\n", "9:21 'tune.nope'"},
    {"    flag: 'tune.ignition.timing_mode == \"it''s\" and tune.nope > 3'\n", "9:41 '\"it''s\"'"},
    {"    flag: \"tune.nope > 3\"\n", "9:12 'tune.nope'"},
    {"    flag: \"\\\"a\\\" == tune.file.title and tune.nope > 3\"\n", "9:41 'tune.nope'"},
    {"    flag: \"\\u0074une.nope > 3\"\n", "9:12 '\\u0074une.nope'"},
    {"    flag: |\n      true\n      and tune.nope > 3\n", "11:11 'tune.nope'"},
    {"    flag: >\n      true\n      and tune.nope > 3\n", "11:11 'tune.nope'"},
    {"    flag: >-\n      true and\n\n      tune.nope > 3\n", "12:7 'tune.nope'"},
    {"    flag: true\n      and tune.nope > 3\n", "10:11 'tune.nope'"},
    {"    flag: \"true\n      and tune.nope > 3\"\n", "10:11 'tune.nope'"},
    {"    flag: \"true \\\n      and tune.nope > 3\"\n", "10:11 'tune.nope'"},
    {"    flag: tune.nope\n", "9:11 'tune.nope'"},
    {"    flag:   tune.nope   # that is all\n", "9:13 'tune.nope'"},
};

static void mistakes_inside_every_kind_of_scalar(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  for (size_t i = 0; i < sizeof scalars / sizeof *scalars; i++) {
    struct shop shop =
        SHOP(arena_print(arena, PACK "rules:\n" HEAD("r") SEVERITY "%s    say: nothing\n" TAIL, scalars[i].bytes));
    assert_null(shop.packs);
    const char *got = run_said(&shop.run);
    if (strncmp(got, scalars[i].said, strlen(scalars[i].said)) != 0)
      fail_msg("%s says %s, not at %s", scalars[i].bytes, got, scalars[i].said);
    shop_close(&shop);
  }
  arena_free(arena);
}

/* What a rule reads, for the list of rules and for the columns of a log that are decoded. */
static void what_a_rule_needs(void **state)
{
  (void)state;
  struct shop shop = shop_of(PACK LIMITS("hot", "90 degC", "1 degC_diff") "rules:\n" RULE(
      "r", "    let: {unused: log.gear, hot: log.coolant_temperature > limit.hot}\n"
           "    applies: [{that: known(job.engine.cylinders), else: no}]\n"
           "    needs: [{that: any(log.fan_output), else: no}]\n"
           "    each: p in points(tune.fuel.warm_up_enrichment)\n    where: p.value > 0 %\n"
           "    flag: any(hot) and p.x > limit.hot\n    measure: p.value\n    limit: tune.injector.duty_limit\n"
           "    severe: {when: tune.protection.boost_cut, severity: {look: stop, dyno: stop, delivery: stop}}\n"
           "    say: '{tune.file.title}'\n"));
  static const char *const wanted[] = {
      "job.engine.cylinders",         "log.coolant_temperature",  "log.fan_output",           "tune.file.title",
      "tune.fuel.warm_up_enrichment", "tune.injector.duty_limit", "tune.protection.boost_cut"};
  const struct rule *rule = shop.packs->rules[0];
  assert_int_equal(rule->need_count, sizeof wanted / sizeof *wanted);
  for (size_t i = 0; i < rule->need_count; i++)
    assert_string_equal(rule->needs[i], wanted[i]);
  bool *decoded = ARENA_ARRAY(shop.run.arena, shop.run.vocabulary->count[SCOPE_LOG], bool);
  audit_wanted(shop.packs, shop.run.vocabulary, decoded);
  size_t count = 0;
  for (size_t i = 0; i < shop.run.vocabulary->count[SCOPE_LOG]; i++)
    count += decoded[i];
  assert_int_equal(count, 2);
  shop_close(&shop);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(rules_are_sorted_by_topic_and_id),
      cmocka_unit_test(a_rule_is_there_once),
      cmocka_unit_test(a_later_pack_replaces_a_rule_by_name),
      cmocka_unit_test(a_later_pack_silences_a_rule_with_a_reason),
      cmocka_unit_test(limits_of_all_packs),
      cmocka_unit_test(limits_that_are_none),
      cmocka_unit_test(mistakes_inside_every_kind_of_scalar),
      cmocka_unit_test(what_a_rule_needs),
  };
  return cmocka_run_group_tests_name("rules pack", tests, NULL, NULL);
}
