/* Phases: shared by name, computed once, demanded with one wording; and every way in which they can be wrong. */
#include "rules_help.h"

#define PHASES \
  "phases:\n  fast: {title: fast running, when: log.engine_speed >= limit.quick, least: limit.enough, why: w}\n"
#define LIMITS                                                                \
  "limits:\n"                                                                 \
  "  quick: {value: 2000 rpm, step: 1 rpm, basis: common practice, why: w}\n" \
  "  enough: {value: 2 s, step: 0.1 s, basis: common practice, why: w}\n"
#define SPEEDS \
  "time (s),engine_speed (rpm),coolant_temperature (degC)\n0,1000,20\n1,2000,30\n2,3000,40\n3,3000,50\n4,1000,60\n"
#define FLAG "    flag: max(where(log.coolant_temperature, phase.fast)) > 45 degC\n    say: '{duration(phase.fast)}'\n"

static const char *undecided_for(const struct outcome *outcome)
{
  assert_int_equal(outcome->verdicts[VERDICT_UNDECIDED], 1);
  assert_int_equal(outcome->undecided[0].missing_count, 1);
  return outcome->undecided[0].missing[0];
}

static void stands_for_its_condition(void **state)
{
  (void)state;
  struct shop shop = shop_of(PACK LIMITS PHASES "rules:\n" RULE("r", FLAG));
  const struct outcome *outcome = shop_audit(&shop, (struct work_order){.log = SPEEDS}, NULL);
  assert_int_equal(outcome->finding_count, 1);
  assert_string_equal(outcome->findings[0].message, "3 s");
  const struct phase *phase = packs_phase(shop.packs, slice_of("fast"));
  assert_non_null(phase);
  assert_null(packs_phase(shop.packs, slice_of("fas")));
  assert_string_equal(phase->title, "fast running");
  assert_string_equal(phase->when_written, "log.engine_speed >= limit.quick");
  assert_string_equal(phase->least_written, "limit.enough");
  assert_string_equal(phase->pack, "shop");
  assert_true(expr_type(phase->when)->series);
  const struct rule *rule = shop.packs->rules[0];
  assert_int_equal(rule->phase_count, 1);
  assert_string_equal(rule->phases[0], "fast");
  assert_int_equal(rule->need_count, 2); /* what the phase reads, the rule reads */
  assert_string_equal(rule->needs[0], "log.coolant_temperature");
  assert_string_equal(rule->needs[1], "log.engine_speed");
  shop_close(&shop);
}

static void count_name(void *context, const struct name *name)
{
  *(size_t *)context += name->scope == NAME_LIMIT;
}

/* Its limits are the phase's own, not those of who uses it. */
static void keeps_its_limits(void **state)
{
  (void)state;
  struct shop shop = shop_of(PACK LIMITS PHASES "rules:\n" RULE("r", FLAG));
  size_t all = 0, own = 0, of_phase = 0;
  expr_names(shop.packs->rules[0]->checks[0].flag, count_name, &all);
  expr_own_names(shop.packs->rules[0]->checks[0].flag, count_name, &own);
  expr_own_names(packs_phase(shop.packs, slice_of("fast"))->when, count_name, &of_phase);
  assert_int_equal(all, 1);
  assert_int_equal(own, 0);
  assert_int_equal(of_phase, 1);
  shop_close(&shop);
}

/* As many expressions are computed as when the condition is written out. */
static void computed_once(void **state)
{
  (void)state;
  static const char *const flags[] = {"duration(phase.fast) > 9 s", "duration(log.engine_speed >= limit.quick) > 9 s"};
  size_t evaluated[2];
  for (size_t i = 0; i < 2; i++) {
    struct run text = run_new();
    const char *body = "    flag: any(phase.fast) and %s\n    say: no\n";
    const char *pack = arena_print(text.arena, "%s%s", PACK LIMITS PHASES "rules:\n" HEAD("r") SEVERITY,
                                   arena_print(text.arena, body, flags[i]));
    struct shop shop = shop_of(arena_print(text.arena, "%s%s", pack, TAIL));
    struct audit_stats stats;
    const struct outcome *outcome = shop_audit(&shop, (struct work_order){.log = SPEEDS}, &stats);
    assert_int_equal(outcome->verdicts[VERDICT_CLEAR], 1);
    evaluated[i] = stats.evaluated;
    shop_close(&shop);
    run_free(&text);
  }
  assert_int_equal(evaluated[0], evaluated[1]);
  assert_true(evaluated[0] > 3);
}

static void demanded_with_its_own_words(void **state)
{
  (void)state;
  struct work_order order = {.log = SPEEDS};
  struct shop shop = shop_of(PACK LIMITS PHASES "rules:\n" RULE("r", "    phases: [fast]\n" FLAG));
  assert_int_equal(shop_audit(&shop, order, NULL)->verdicts[VERDICT_FLAGGED], 1);
  /* 3 s of the log are fast: at the limit, and past it. */
  order.job = "limits: {enough: {value: 3 s, reason: ours}}\n";
  assert_int_equal(shop_audit(&shop, order, NULL)->verdicts[VERDICT_FLAGGED], 1);
  order.job = "limits: {enough: {value: 3.1 s, reason: ours}}\n";
  assert_string_equal(undecided_for(shop_audit(&shop, order, NULL)), "at least 3.1 s of fast running in the log");
  /* A channel that lacks is named. */
  order = (struct work_order){.log = "time (s),coolant_temperature (degC)\n0,20\n1,50\n"};
  assert_string_equal(undecided_for(shop_audit(&shop, order, NULL)), "log.engine_speed");
  shop_close(&shop);
}

static void demanded_for_a_time_of_the_rule(void **state)
{
  (void)state;
  struct work_order order = {.log = SPEEDS};
  struct shop shop =
      shop_of(PACK LIMITS PHASES "rules:\n" RULE("r", "    let: {own: 1 s}\n    phases: {fast: 2 * own + 500 ms}\n"
                                                      "    needs: [{that: any(log.fan_output), else: no fan}]\n" FLAG));
  assert_string_equal(undecided_for(shop_audit(&shop, order, NULL)),
                      "log.fan_output"); /* phases: comes first, and held */
  shop_close(&shop);
  shop = shop_of(PACK LIMITS PHASES "rules:\n" RULE("r", "    phases: {fast: 1 min}\n"
                                                         "    needs: [{that: false, else: no fan}]\n" FLAG));
  assert_string_equal(undecided_for(shop_audit(&shop, order, NULL)), "at least 1 min of fast running in the log");
  shop_close(&shop);
  /* A check has its own beside those of the rule. */
  shop = shop_of(PACK LIMITS PHASES "rules:\n" HEAD("r") SEVERITY
                 "    phases: [fast]\n    checks:\n      - phases: {fast: 4 s}\n        flag: any(phase.fast)\n"
                 "        say: no\n        subject: log.engine_speed\n" TAIL);
  assert_int_equal(shop.packs->rules[0]->checks[0].needs_count, 2);
  assert_string_equal(undecided_for(shop_audit(&shop, order, NULL)), "at least 4 s of fast running in the log");
  shop_close(&shop);
}

/* A phase may use phases that are written after it, and those of other packs. */
static void in_any_order(void **state)
{
  (void)state;
  struct shop shop =
      SHOP(PACK LIMITS "phases:\n"
                       "  aa: {title: aa, when: phase.zz and phase.fast, least: 1 s, why: w}\n"
                       "  zz: {title: zz, when: log.coolant_temperature < 45 degC, least: 1 s, why: w}\n"
                       "rules:\n" RULE("r", "    flag: duration(phase.aa) > 1 s\n    say: '{duration(phase.aa)}'\n"),
           "keyway-rules: 1\npack: mine\n" PHASES);
  assert_non_null(shop.packs);
  assert_int_equal(shop.packs->phase_count, 3);
  assert_string_equal(shop.packs->phases[0].title, "aa");
  assert_string_equal(shop.packs->phases[1].pack, "mine");
  const struct outcome *outcome = shop_audit(&shop, (struct work_order){.log = SPEEDS}, NULL);
  assert_string_equal(outcome->findings[0].message, "2 s");
  static const char *const wanted[] = {"aa", "fast", "zz"};
  assert_int_equal(shop.packs->rules[0]->phase_count, 3);
  for (size_t i = 0; i < 3; i++)
    assert_string_equal(shop.packs->rules[0]->phases[i], wanted[i]);
  shop_close(&shop);
}

static const struct wrong wrong_phases[] = {
    {"a: {title: t, when: phase.a, least: 1 s, why: w}", "4:23 'phase.a' phase.a is defined by way of itself | -"},
    {"a: {title: t, when: not phase.b, least: 1 s, why: w}\n  b: {title: t, when: phase.a, least: 1 s, why: w}",
     "5:23 'phase.a' phase.a is defined by way of itself | -"},
    {"a: {title: t, when: log.fuel_cut, least: duration(phase.a), why: w}",
     "4:53 'phase.a' phase.a is defined by way of itself | -"},
    {"a: {title: t, when: phase.none, least: 1 s, why: w}", "4:23 'phase.none' no pack has a phase 'none' | -"},
    {"fast: {title: t, when: log.fuel_cut, least: 1 s, why: w}\n  b: {title: t, when: phase.fist, least: 1 s, why: w}",
     "5:23 'phase.fist' no pack has a phase 'fist' | the nearest name is phase.fast"},
    {"a: {title: t, when: log.engine_speed, least: 1 s, why: w}",
     "4:23 'log.engine_speed' a series of conditions over the log is expected here, not a series of numbers "
     "(speed of rotation) | -"},
    {"a: {title: t, when: any(log.fuel_cut), least: 1 s, why: w}",
     "4:23 'any(log.fuel_cut)' a series of conditions over the log is expected here, not a condition | -"},
    {"a: {title: t, when: job.coolant.measured > 3 degC, least: 1 s, why: w}",
     "4:23 'job.coolant.measured > 3 degC' a phase runs over the log, not over the records of a reading | -"},
    {"a: {title: t, when: log.fuel_cut, least: 1 kPa, why: w}",
     "4:44 '1 kPa' a time is expected here, not a number (pressure) | -"},
    {"a: {title: t, when: log.fuel_cut, least: log.time, why: w}",
     "4:44 'log.time' a time is expected here, not a series of numbers (time) | -"},
    {"a: {title: t, when: log.fuel_cut >, least: 1 s, why: w}",
     "4:37 ',' the expression ends where a value is expected | -"},
    {"a: {title: t, when: [log.fuel_cut], least: 1 s, why: w}",
     "4:24 'log.fuel_cut' an expression is expected here | -"},
    {"a: {title: t}",
     "4:7 'title' 'when:' is missing | -\n4:7 'title' 'least:' is missing | -\n4:7 'title' 'why:' is missing | -"},
    {"a: {title: t, when: log.fuel_cut, least: 1 s, why: w, whin: 1}",
     "4:57 'whin' 'whin' is not a key here | the nearest one is 'when'"},
    {"A b: {title: t, when: log.fuel_cut, least: 1 s, why: w}",
     "4:3 'A b' the name of a phase is lower-case letters, digits and '_' | -"},
    {"a: later", "4:6 'later' a phase is a map: {title, when, least, why} | -"},
};

static void phases_that_are_none(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  for (size_t i = 0; i < sizeof wrong_phases / sizeof *wrong_phases; i++) {
    struct shop shop = SHOP(arena_print(arena, "keyway-rules: 1\npack: shop\nphases:\n  %s\n", wrong_phases[i].bytes));
    assert_null(shop.packs);
    assert_string_equal(run_said(&shop.run), wrong_phases[i].said);
    shop_close(&shop);
  }
  struct shop shop = SHOP("keyway-rules: 1\npack: shop\nphases: [a]\n");
  assert_string_equal(run_said(&shop.run), "3:10 'a' 'phases' takes a map from name to {title, when, least, why}, not "
                                           "a list | -");
  shop_close(&shop);
  shop = SHOP(PACK LIMITS PHASES, "keyway-rules: 1\npack: mine\n" PHASES);
  assert_string_equal(run_said(&shop.run), "4:3 'fast' phase.fast is already there, in the pack 'shop' | -");
  shop_close(&shop);
  arena_free(arena);
}

/* Line 11 is the rule's first one after its severity. */
static const struct wrong wrong_uses[] = {
    {"    phases: [fest]\n    flag: false\n", "11:14 'fest' no pack has a phase 'fest' | the nearest one is 'fast'"},
    {"    phases: [elephant]\n    flag: false\n", "11:14 'elephant' no pack has a phase 'elephant' | -"},
    {"    phases: fast\n    flag: false\n",
     "11:13 'fast' a list of phases is expected here, or a map from phases to times | -"},
    {"    phases: [[fast]]\n    flag: false\n", "11:15 'fast' the name of a phase is expected here | -"},
    {"    phases: {fast: 3 rpm}\n    flag: false\n",
     "11:20 '3 rpm' a time is expected here, not a number (speed of rotation) | -"},
    {"    phases: {fast: [3 s]}\n    flag: false\n", "11:21 '3 s' an expression is expected here | -"},
    {"    phases: {fast: limit.enaugh}\n    flag: false\n",
     "11:20 'limit.enaugh' 'limit.enaugh' is not in the vocabulary | the nearest name is limit.enough"},
    {"    flag: phase.fast\n", "11:11 'phase.fast' a condition is expected here, not a series of conditions; reduce it "
                               "with any(), all(), mean(), ... | -"},
    {"    flag: any(phase.fist)\n", "11:15 'phase.fist' no pack has a phase 'fist' | the nearest name is phase.fast"},
    {"    flag: any(phase.fast > 3 s)\n",
     "11:15 'phase.fast > 3 s' a series of conditions and a number (time) do not go "
     "together | -"},
};

static void uses_that_are_none(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  for (size_t i = 0; i < sizeof wrong_uses / sizeof *wrong_uses; i++) {
    const char *head = "keyway-rules: 1\npack: shop\n" PHASES "rules:\n" HEAD("r") SEVERITY;
    struct shop shop =
        SHOP(arena_print(arena, "%s    subject: log.engine_speed\n%s    say: no\n%s", head, wrong_uses[i].bytes, TAIL),
             "keyway-rules: 1\npack: limits\n" LIMITS);
    assert_null(shop.packs);
    assert_string_equal(run_said(&shop.run), wrong_uses[i].said);
    shop_close(&shop);
  }
  arena_free(arena);
}

/* What fails for the sake of a refused phase is not told as well. */
static void one_mistake_is_told_once(void **state)
{
  (void)state;
  struct shop shop = SHOP("keyway-rules: 1\npack: shop\nphases:\n"
                          "  b: {title: t, when: log.nope, least: 1 s, why: w}\n"
                          "  a: {title: t, when: phase.b and log.fuel_cut, least: 1 s, why: w}\n"
                          "rules:\n" RULE("r", "    phases: [a]\n    flag: any(phase.b)\n    say: no\n"));
  assert_null(shop.packs);
  assert_string_equal(run_said(&shop.run), "4:23 'log.nope' 'log.nope' is not in the vocabulary | -");
  shop_close(&shop);
}

/* Each phase uses the one before it in the alphabet, or the one after it. */
static const char *chain_of(struct arena *arena, size_t count, bool back)
{
  const char *text = "keyway-rules: 1\npack: shop\nphases:\n";
  for (size_t i = 0; i < count; i++) {
    size_t other = back ? i - 1 : i + 1;
    const char *when = other < count ? arena_print(arena, "not phase.p%03zu", other) : "log.fuel_cut";
    text = arena_print(arena, "%s  p%03zu: {title: t, when: %s, least: 1 s, why: w}\n", text, i, when);
  }
  return text;
}

static void nested_up_to_the_limit(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  for (int back = 0; back < 2; back++) {
    struct shop shop = SHOP(chain_of(arena, LIMIT_PHASE_DEPTH, back));
    assert_non_null(shop.packs);
    shop_close(&shop);
    shop = SHOP(chain_of(arena, LIMIT_PHASE_DEPTH + 1, back));
    assert_null(shop.packs);
    assert_non_null(strstr(run_said(&shop.run), "phases that use phases are nested more than 16 levels deep"));
    assert_int_equal(shop.run.problems.count, 1);
    shop_close(&shop);
  }
  arena_free(arena);
}

static void as_many_as_the_limit(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  const char *text = "keyway-rules: 1\npack: shop\nphases:\n";
  for (size_t i = 0; i < LIMIT_PHASES; i++)
    text = arena_print(arena, "%s  p%zu: {title: t, when: log.fuel_cut, least: 1 s, why: w}\n", text, i);
  struct shop shop = SHOP(text);
  assert_non_null(shop.packs);
  assert_int_equal(shop.packs->phase_count, LIMIT_PHASES);
  shop_close(&shop);
  shop = SHOP(arena_print(arena, "%s  q: {title: t, when: log.fuel_cut, least: 1 s, why: w}\n", text));
  assert_null(shop.packs);
  assert_string_equal(run_said(&shop.run), "260:3 'q' there are more than 256 phases | -");
  shop_close(&shop);
  arena_free(arena);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(stands_for_its_condition),
      cmocka_unit_test(keeps_its_limits),
      cmocka_unit_test(computed_once),
      cmocka_unit_test(demanded_with_its_own_words),
      cmocka_unit_test(demanded_for_a_time_of_the_rule),
      cmocka_unit_test(in_any_order),
      cmocka_unit_test(phases_that_are_none),
      cmocka_unit_test(uses_that_are_none),
      cmocka_unit_test(one_mistake_is_told_once),
      cmocka_unit_test(nested_up_to_the_limit),
      cmocka_unit_test(as_many_as_the_limit),
  };
  return cmocka_run_group_tests_name("rules/phase", tests, NULL, NULL);
}
