/* Rules and packs that are refused, each with the place and the words that a person is told: longer than other files
 * because it is one table. Rows: lines within a rule that is otherwise in order (the first 8 lines are the pack's and
 * the rule's heads), or a whole pack; then what is said, as in reading.h. The words are ours (common practice, no
 * source); what a rule holds is in rules/LANGUAGE.md. */
#include "rules_help.h"

static const struct wrong bodies[] = {
    {"    say: nothing\n", "5:5 'rule: r' 'flag:' is missing | -"},
    {"    flag: true\n", "5:5 'rule: r' 'say:' is missing or no text | -"},
    {"    flag: [true]\n    say: nothing\n", "9:12 'true' an expression is expected here | -"},
    {"    flag: tune.ignition.fixed_advance\n    say: nothing\n",
     "9:11 'tune.ignition.fixed_advance' a condition is expected here, not a number (angle) | -"},
    {"    flag: log.fan_output\n    say: nothing\n", "9:11 'log.fan_output' a condition is expected here, not a series "
                                                     "of conditions; reduce it with any(), all(), mean(), ... | -"},
    {"    flag: true\n    say: {a: b}\n", "10:11 'a: b' 'say:' is missing or no text | -"},
    {"    flag: true\n    say: \"\"\n    wher: true\n", "10:10 '\"\"' 'say:' is missing or no text | -\n11:5 'wher' "
                                                        "'wher' is not a key here | the nearest one is 'where'"},
    {"    flag: true\n    say: not empty\n    wher: true\n",
     "11:5 'wher' 'wher' is not a key here | the nearest one is 'where'"},
    {"    flag: true\n    where: true\n    say: nothing\n", "10:12 'true' 'where' goes with 'each' | -"},
    {"    each: points(tune.fuel.warm_up_enrichment)\n    flag: true\n    say: nothing\n",
     "9:11 'points(tune.fuel.warm_up_enrichment)' 'NAME in COLLECTION' is expected here | -"},
    {"    each: p in tune.fuel.warm_up_enrichment\n    flag: true\n    say: nothing\n",
     "9:11 'p in tune.fuel.warm_up_enrichment' a collection is expected here, not a curve | -"},
    {"    each: p in points(tune.fuel.warm_up_enrichmnt)\n    flag: p.value > 3\n    say: nothing\n",
     "9:23 'tune.fuel.warm_up_enrichmnt' 'tune.fuel.warm_up_enrichmnt' is not in the vocabulary | the nearest name is "
     "tune.fuel.warm_up_enrichment"},
    {"    each: p in points(tune.fuel.warm_up_enrichment)\n    flag: p.valu > 100 %\n    say: \"{q.value}\"\n",
     "10:11 'p.valu' this item has no field 'valu' | it has .x .value\n11:12 'q.value' 'q.value' is not a name of this "
     "rule | settings start with tune., channels with log., facts and readings with job., thresholds with limit., "
     "phases with phase.; "
     "texts are quoted"},
    {"    each: [a]\n    flag: true\n    say: nothing\n", "9:12 'a' 'NAME in COLLECTION' is expected here | -"},
    {"    each: p in\n    flag: true\n    say: nothing\n", "9:11 'p in' 'NAME in COLLECTION' is expected here | -"},
    {"    flag: p.value > 3\n    say: nothing\n",
     "9:11 'p.value' 'p.value' is not a name of this rule | settings start with tune., channels with log., facts and "
     "readings with job., thresholds with limit., phases with phase.; texts are quoted"},
    {"    flag: true\n    measure: log.gear\n    say: nothing\n",
     "10:14 'log.gear' a number is expected here, not a series of numbers (plain number); reduce it with any(), all(), "
     "mean(), ... | -"},
    {"    flag: true\n    measure: true\n    limit: 3 kPa\n    say: nothing\n",
     "10:14 'true' a number is expected here, not a condition | -"},
    {"    flag: true\n    measure: 3 rpm\n    limit: 3 kPa\n    say: nothing\n",
     "11:12 '3 kPa' the limit is another kind of number than the measure | -"},
    {"    flag: true\n    measure: 80 degC\n    limit: 3 degC_diff\n    say: nothing\n",
     "11:12 '3 degC_diff' the limit is another kind of number than the measure | -"},
    {"    flag: true\n    subject: 3 rpm\n    say: nothing\n",
     "10:14 '3 rpm' a name or a text is expected here, not a number (speed of rotation) | -"},
    {"    flag: true\n    places: tune.inputs\n    say: nothing\n",
     "10:13 'tune.inputs' a list of names is expected here | -"},
    {"    flag: true\n    places: [3 rpm, tune.inputs, tune.nope]\n    say: nothing\n",
     "10:14 '3 rpm' a name such as tune.inputs is expected here | -\n10:34 'tune.nope' 'tune.nope' is not in the "
     "vocabulary | -"},
    {"    let: {a: p.valu, b: a + 1 %}\n    each: p in points(tune.fuel.warm_up_enrichment)\n    flag: b > 3 %\n"
     "    say: nothing\n",
     "9:14 'p.valu' this item has no field 'valu' | it has .x .value"},
    {"    let: [a]\n    flag: true\n    say: nothing\n", "9:11 'a' let is a map of names to expressions | -"},
    {"    let: {a: 1 rpm, b: a + 1 kPa, c: b > 1}\n    flag: c\n    say: nothing\n",
     "9:24 'a + 1 kPa' a number (speed of rotation) and a number (pressure) cannot be added | -"},
    {"    let: {a: b, b: 1}\n    flag: a > b\n    say: nothing\n",
     "9:14 'b' 'b' is not a name of this rule | settings start with tune., channels with log., facts and readings with "
     "job., thresholds with limit., phases with phase.; texts are quoted"},
    {"    applies: true\n    flag: true\n    say: nothing\n",
     "9:14 'true' a list is expected here: [{that: CONDITION, else: TEXT}] | -"},
    {"    applies: [true]\n    flag: true\n    say: nothing\n",
     "9:15 'true' {that: CONDITION, else: TEXT} is expected here | -"},
    {"    applies: [{that: 3, else: no}]\n    flag: true\n    say: nothing\n",
     "9:22 '3' a condition is expected here, not a number (plain number) | -"},
    {"    needs: [{that: true}]\n    flag: true\n    say: nothing\n",
     "9:14 'that: true' {that: CONDITION, else: TEXT} is expected here | -"},
    {"    needs: [{that: true, else: [a], also: b}]\n    flag: true\n    say: nothing\n",
     "9:33 'a' a text is expected here | -\n9:37 'also' 'also' is not a key here | the nearest one is 'else'"},
    {"    severe: {when: true}\n    flag: true\n    say: nothing\n",
     "9:14 'when: true' {when: CONDITION, severity: {...}} is expected here | -"},
    {"    severe: yes\n    flag: true\n    say: nothing\n",
     "9:13 'yes' {when: CONDITION, severity: {...}} is expected here | -"},
    {"    severe: {when: 3, severity: {look: stop, dyno: stop, delivery: stop}, then: 3}\n    flag: true\n    say: "
     "nothing\n",
     "9:20 '3' a condition is expected here, not a number (plain number) | -\n9:75 'then' 'then' is not a key here | "
     "the nearest one is 'when'"},
    {"    severe: {when: true, severity: {look: stop, dyno: high}}\n    flag: true\n    say: nothing\n",
     "9:37 'look: stop, dyno: high' the severity at stage 'delivery' is missing | -\n9:55 'high' a severity is one of "
     "stop, fix, check, note, none | -"},
    {"    decide: some\n    flag: true\n    say: nothing\n", "9:13 'some' 'any' or 'all' is expected here | -"},
    {"    replaces: perhaps\n    flag: true\n    say: nothing\n", "9:15 'perhaps' 'yes' or 'no' is expected here | -"},
    {"    replaces: yes\n    flag: true\n    say: nothing\n", "5:11 'r' there is no rule 'r' to replace | -"},
    {"    explains: other\n    flag: true\n    say: nothing\n", "9:15 'other' a list of rule ids is expected here | -"},
    {"    explains: [other, {a: b}]\n    flag: true\n    say: nothing\n",
     "9:24 'a: b' the id of a rule is expected here | -"},
    {"    explains: [other, r]\n    flag: true\n    say: nothing\n",
     "9:16 'other, r' there is no rule 'other' to explain | -"},
    {"    checks: true\n", "9:13 'true' a list of checks is expected here | -"},
    {"    checks: []\n", "9:13 '[]' a list of checks is expected here | -"},
    {"    checks: [true, {flag: true}, {flag: 3, say: nothing, why: none}]\n",
     "9:14 'true' a check is a map | -\n9:21 'flag: true' 'say:' is missing or no text | -\n9:41 '3' a condition is "
     "expected here, not a number (plain number) | -\n9:58 'why' 'why' is not a key here | the nearest one is 'say'"},
    {"    checks: [{flag: true, say: nothing}]\n    flag: true\n    each: p in pins(tune.inputs)\n",
     "10:5 'flag' a rule with 'checks:' has this key inside each check | -\n11:5 'each' a rule with 'checks:' has this "
     "key inside each check | -"},
};

static const struct wrong packs[] = {
    {"\n", "1:1 '' the file holds nothing | -"},
    {"- 1\n", "1:3 '1' this is no rule pack | a pack starts with 'keyway-rules: 1'"},
    {"keyway-rules: 2\npack: shop\n", "1:15 '2' this version of the rule language is not known; 1 is | -"},
    {"keyway-rules: 1\n", "1:1 'keyway-rules' 'pack:' is missing | -"},
    {"keyway-rules: 1\npack: shop\nrule: []\nrules: {a: b}\nlimits: [3]\n",
     "3:1 'rule' 'rule' is not a key here | the nearest one is 'rules'\n4:9 'a: b' 'rules' takes a list of rules, not "
     "a map | -\n5:10 '3' 'limits' takes a map from name to {value, step, basis, why}, not a list | -"},
    {"keyway-rules: 1\npack: shop\nrules:\n  - 3\n  - []\n  - rule: r\n",
     "4:5 '3' a rule is a map that starts with 'rule: ID' | -\n5:5 '[]' a rule is a map that starts with 'rule: ID' | "
     "-\n6:5 'rule' 'title:' is missing | -\n6:5 'rule' 'topic:' is missing | -\n6:5 'rule' 'why:' is missing | -\n6:5 "
     "'rule' 'do:' is missing | -\n6:5 'rule' 'verify:' is missing | -\n6:5 'rule' 'by_design:' is missing | -\n6:5 "
     "'rule' 'basis:' is missing | -\n6:5 'rule: r' 'cautions:' names no caution | -\n6:5 'rule: r' 'flag:' is missing "
     "| -\n6:5 'rule: r' 'say:' is missing or no text | -\n6:11 'r' 'severity:' is missing | -"},
    {"keyway-rules: 1\npack: shop\nrules:\n  - {rule: [r], title: \"\", severity: fix, cautions: practice}\n",
     "4:6 'rule' 'topic:' is missing | -\n4:6 'rule' 'why:' is missing | -\n4:6 'rule' 'do:' is missing | -\n4:6 "
     "'rule' 'verify:' is missing | -\n4:6 'rule' 'by_design:' is missing | -\n4:6 'rule' 'basis:' is missing | -\n4:6 "
     "'rule: [r], title: \"\", severity: fix, cautions: practice' 'flag:' is missing | -\n4:6 'rule: [r], title: \"\", "
     "severity: fix, cautions: practice' 'say:' is missing or no text | -\n4:13 'r' a text is expected here | -\n4:24 "
     "'\"\"' a text is expected here | -\n4:38 'fix' a severity is a map: {look: check, dyno: check, delivery: fix} | "
     "-\n4:53 'practice' 'cautions:' names no caution | -"},
    {"keyway-rules: 1\npack: shop\nrules:\n  - rule: r\n    title: t\n    topic: tests\n    severity: {look: note, "
     "dyno: chekc, later: fix}\n    flag: true\n    say: nothing\n    why: w\n    do: d\n    verify: v\n    by_design: "
     "b\n    basis: common practice\n    cautions: [heat, cold]\n",
     "7:16 'look: note, dyno: chekc, later: fix' the severity at stage 'delivery' is missing | -\n7:34 'chekc' a "
     "severity is one of stop, fix, check, note, none | -\n7:41 'later' 'later' is not a key here | -\n15:22 'cold' "
     "this caution is not in cautions.yaml | -"},
    {"keyway-rules: 1\npack: shop\nrules:\n  - rule: r\n    title: t\n    topic: tests\n    severity: {look: note, "
     "dyno: note, delivery: none}\n    flag: true\n    say: nothing\n    why: w\n    do: d\n    verify: v\n    "
     "by_design: b\n    basis: common practice\n    cautions: [heat]\n",
     "15:16 'heat' no caution here defers to local law and a qualified person (haz-practice does) | -"},
    {"keyway-rules: 1\npack: shop\nsilence: [a]\nrules: []\n",
     "3:11 'a' 'silence' takes a map from rule to reason, not a list | -"},
    {"keyway-rules: 1\npack: shop\nsilence: {nobody: because}\nrules: []\n",
     "3:11 'nobody' there is no rule 'nobody' to silence | -"},
    {"keyway-rules: 1\npack: shop\nlimits: {a: {value: 3 kPa, step: 1 kPa, basis: derived, why: w}, b: {value: 3 kPa, "
     "step: -1 kPa, basis: derived, why: w}}\nlimits: {}\n",
     "4:1 'limits' 'limits' is here a second time | the first one is in line 3"},
};

static void expect_refused(const char *pack, const struct wrong *wrong)
{
  struct shop shop = SHOP(pack);
  if (shop.packs)
    fail_msg("accepted:\n%s", wrong->bytes);
  const char *got = run_said(&shop.run);
  if (strcmp(got, wrong->said) != 0)
    fail_msg("%s\nsays\n%s\nnot\n%s", wrong->bytes, got, wrong->said);
  shop_close(&shop);
}

static void wrong_rules_are_refused_with_their_place(void **state)
{
  (void)state;
  size_t count = sizeof bodies / sizeof *bodies;
  assert_true(count > 40);
  struct arena *arena = arena_new();
  for (size_t i = 0; i < count; i++)
    expect_refused(arena_print(arena, "%s%s%s", PACK "rules:\n" HEAD("r") SEVERITY, bodies[i].bytes, TAIL), &bodies[i]);
  arena_free(arena);
}

static void wrong_packs_are_refused_with_their_place(void **state)
{
  (void)state;
  size_t count = sizeof packs / sizeof *packs;
  assert_true(count > 10);
  for (size_t i = 0; i < count; i++)
    expect_refused(packs[i].bytes, &packs[i]);
}

/* The same rule without its fault is in order. */
static void the_rule_around_the_faults_is_in_order(void **state)
{
  (void)state;
  struct shop shop = shop_of(PACK "rules:\n" HEAD("r") SEVERITY "    flag: true\n    say: nothing\n" TAIL);
  assert_int_equal(shop.packs->rule_count, 1);
  shop_close(&shop);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(wrong_rules_are_refused_with_their_place),
      cmocka_unit_test(wrong_packs_are_refused_with_their_place),
      cmocka_unit_test(the_rule_around_the_faults_is_in_order),
  };
  return cmocka_run_group_tests_name("rules wrong", tests, NULL, NULL);
}
