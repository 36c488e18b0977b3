/* Verdicts: how checks, conditions and unknowns combine; severities; findings for each subject with the worst first.
 * The rules of combination are those of rules/LANGUAGE.md, section 2 (common practice, no source). */
#include "rules_help.h"

static const char *const wave_log = "time (s),gear,fan_output\n0,1,0\n1,2,1\n2,3,1\n3,4,0\n";

/* The only rule's verdict. */
static enum verdict verdict_of(const struct outcome *outcome)
{
  size_t sum = 0;
  enum verdict verdict = VERDICT_COUNT;
  for (size_t v = 0; v < VERDICT_COUNT; v++) {
    sum += outcome->verdicts[v];
    verdict = outcome->verdicts[v] > 0 ? (enum verdict)v : verdict;
  }
  assert_int_equal(sum, 1);
  return verdict;
}

struct sketch { /* lines of a rule, and what comes of it: the verdict, then what it names */
  const char *body, *wanted;
};

/* "flagged: message", "clear", "undecided: names", "not_applicable: why" */
static const char *told(struct arena *arena, const struct outcome *outcome)
{
  enum verdict verdict = verdict_of(outcome);
  const char *out = verdict_name(verdict);
  if (verdict == VERDICT_FLAGGED) {
    for (size_t i = 0; i < outcome->finding_count; i++)
      out = arena_print(arena, "%s%s%s", out, i == 0 ? ": " : " / ", outcome->findings[i].message);
  } else if (verdict == VERDICT_UNDECIDED) {
    for (size_t i = 0; i < outcome->undecided[0].missing_count; i++)
      out = arena_print(arena, "%s%s%s", out, i == 0 ? ": " : "; ", outcome->undecided[0].missing[i]);
  } else if (verdict == VERDICT_NOT_APPLICABLE) {
    out = arena_print(arena, "%s: %s", out, outcome->not_applicable[0].why);
  }
  assert_int_equal(outcome->clear_count, verdict == VERDICT_CLEAR);
  return out;
}

static void expect_sketches(const struct sketch *sketches, size_t count, struct work_order order)
{
  struct arena *arena = arena_new();
  assert_true(count > 0);
  for (size_t i = 0; i < count; i++) {
    struct shop shop = shop_of(arena_print(arena, PACK "rules:\n" HEAD("r") SEVERITY "%s" TAIL, sketches[i].body));
    const char *got = told(arena, shop_audit(&shop, order, NULL));
    if (strcmp(got, sketches[i].wanted) != 0)
      fail_msg("\n%sis %s\nnot %s", sketches[i].body, got, sketches[i].wanted);
    shop_close(&shop);
  }
  arena_free(arena);
}

/* Two checks, each flagged (F), clear (C), unknown (U) or not applicable (N). */
static void checks_in_pairs(void **state)
{
  static const char *const checks[4] = {"{flag: true, subject: tune.file.title, say: one}", "{flag: false, say: one}",
                                        "{flag: tune.launch.enabled, say: one}",
                                        "{applies: [{that: false, else: not here}], flag: true, say: one}"};
  static const char *const all = "FFFF"
                                 "FCUC"
                                 "FUUU"
                                 "FCUN",
                           *const any = "FFFF"
                                        "FCCC"
                                        "FCUU"
                                        "FCUN";
  static const char letters[VERDICT_COUNT + 1] = "FCUN";
  (void)state;
  struct arena *arena = arena_new();
  for (size_t pair = 0; pair < 16; pair++) {
    for (int turn = 0; turn < 3; turn++) { /* decide: all, any, left out */
      struct shop shop = shop_of(arena_print(arena, PACK "rules:\n" HEAD("r") SEVERITY "%s    checks: [%s, %s]\n" TAIL,
                                             turn == 0   ? "    decide: all\n"
                                             : turn == 1 ? "    decide: any\n"
                                                         : "",
                                             checks[pair / 4], checks[pair % 4]));
      char got = letters[verdict_of(shop_audit(&shop, (struct work_order){0}, NULL))];
      char wanted = (turn == 1 ? any : all)[pair];
      if (got != wanted)
        fail_msg("%s and %s, turn %d: %c, not %c", checks[pair / 4], checks[pair % 4], turn, got, wanted);
      shop_close(&shop);
    }
  }
  arena_free(arena);
}

static const struct sketch conditions[] = {
    {"    applies: [{that: false, else: not such a car}]\n    flag: true\n    say: x\n",
     "not_applicable: not such a car"},
    {"    applies: [{that: true, else: a}, {that: false, else: b}, {that: false, else: c}]\n    flag: true\n    say: "
     "x\n",
     "not_applicable: b"},
    {"    applies: [{that: tune.launch.enabled, else: a}]\n    flag: true\n    say: x\n",
     "undecided: tune.launch.enabled"},
    {"    applies: [{that: tune.launch.enabled, else: a}, {that: false, else: b}]\n    flag: true\n    say: x\n",
     "not_applicable: b"},
    {"    applies: [{that: true, else: a}]\n    flag: true\n    say: x\n", "flagged: x"},
    {"    needs: [{that: false, else: never warm}]\n    flag: true\n    say: x\n", "undecided: never warm"},
    {"    needs: [{that: max(log.gear) > 9, else: never fast}]\n    flag: true\n    say: x\n", "undecided: never fast"},
    {"    needs: [{that: max(log.engine_speed) > 9 rpm, else: never fast}]\n    flag: true\n    say: x\n",
     "undecided: log.engine_speed"},
    {"    applies: [{that: false, else: not here}]\n    needs: [{that: false, else: never warm}]\n    flag: true\n    "
     "say: x\n",
     "not_applicable: not here"},
    {"    needs: [{that: true, else: never warm}]\n    flag: false\n    say: x\n", "clear"},
    {"    flag: tune.launch.enabled and tune.ignition.fixed_advance > 1 deg\n    say: x\n",
     "undecided: tune.launch.enabled; tune.ignition.fixed_advance"},
    {"    flag: tune.launch.enabled or true\n    say: x\n", "flagged: x"},
    {"    flag: tune.launch.enabled and false\n    say: x\n", "clear"},
    {"    let: {slow: mean(log.engine_speed) < 9 rpm}\n    flag: slow\n    say: x\n", "undecided: log.engine_speed"},
    {"    checks: [{flag: tune.launch.enabled, say: x}, {flag: not tune.launch.enabled, say: x}, "
     "{flag: tune.launch.speed_limit > 1 rpm, say: x}]\n",
     "undecided: tune.launch.enabled; tune.launch.speed_limit"},
    {"    applies: [{that: true, else: a}]\n    checks: [{applies: [{that: false, else: b}], flag: true, say: x}]\n",
     "not_applicable: b"},
    {"    applies: [{that: false, else: a}]\n    checks: [{applies: [{that: false, else: b}], flag: true, say: x}]\n",
     "not_applicable: a"},
};

static void conditions_come_first(void **state)
{
  (void)state;
  expect_sketches(conditions, sizeof conditions / sizeof *conditions, (struct work_order){.log = wave_log});
}

static const char *const curve_settings =
    "fuel.warm_up_enrichment: {x: {unit: degC, at: [0, 40, 80]}, value: [130, 110, 100]}\n"
    "ignition.coolant_correction: {x: {unit: degC, at: [0, 40, 40]}, value: [1, 2, 3]}\n"
    "inputs: {}\n";

#define POINTS "    each: p in points(tune.fuel.warm_up_enrichment)\n"

static const struct sketch items[] = {
    {POINTS "    flag: p.value > 200 %\n    say: x\n", "clear"},
    {POINTS "    flag: p.value > 105 %\n    say: '{p.x}'\n", "flagged: 0 degC"},
    {POINTS "    where: p.x > 100 degC\n    flag: true\n    say: x\n",
     "not_applicable: nothing there meets the rule's conditions"},
    {POINTS "    where: p.x > 50 degC\n    flag: p.value > 105 %\n    say: x\n", "clear"},
    {POINTS "    where: tune.launch.enabled\n    flag: true\n    say: x\n", "undecided: tune.launch.enabled"},
    {POINTS "    where: p.x > 50 degC and tune.launch.enabled\n    flag: true\n    say: x\n",
     "undecided: tune.launch.enabled"},
    {POINTS "    flag: p.value > 200 % and tune.launch.enabled\n    say: x\n", "clear"},
    {POINTS "    flag: p.value > 105 % and tune.launch.enabled\n    say: x\n", "undecided: tune.launch.enabled"},
    {POINTS "    flag: p.value > 120 % or (p.value > 105 % and tune.launch.enabled)\n    say: '{p.value}'\n",
     "flagged: 130 %"},
    {"    each: p in points(tune.fuel.cranking_fuel)\n    flag: true\n    say: x\n",
     "undecided: tune.fuel.cranking_fuel"},
    {"    each: s in spans(log.gear > 99, 1 s)\n    flag: true\n    say: x\n", "clear"},
    {"    each: s in spans(log.engine_speed > 99 rpm, 1 s)\n    flag: true\n    say: x\n",
     "undecided: log.engine_speed"},
    {"    each: p in pins(tune.inputs)\n    flag: true\n    say: x\n", "clear"},
    {"    each: s in steps(tune.ignition.coolant_correction)\n    flag: s.slope > 1 deg/K\n    say: x\n",
     "undecided: an axis that moves"},
    {"    each: r in job.coolant\n    flag: r.measured > r.logged\n    say: '{r.measured}'\n",
     "undecided: logged of each record of job.coolant"},
    {"    each: r in job.coolant\n    flag: r.measured > 75 degC\n    say: '{r.measured}'\n", "flagged: 80 degC"},
    {"    checks:\n      - {each: p in points(tune.fuel.warm_up_enrichment), flag: p.value > 105 %, say: '{p.x}'}\n"
     "      - {each: 'q in points(tune.fuel.warm_up_enrichment, 80 degC)', flag: q.value > 105 %, say: '{q.x}'}\n",
     "flagged: 0 degC"},
};

static void items_are_judged_one_by_one(void **state)
{
  (void)state;
  expect_sketches(items, sizeof items / sizeof *items,
                  (struct work_order){
                      .settings = curve_settings,
                      .log = wave_log,
                      .job = "readings:\n  coolant: [{measured: 60 degC, logged: 62 degC}, {measured: 80 degC}]\n"});
}

/* Severity by stage; a higher one where `severe` holds at some flagged place; none: the rule is not raised. */
static void severities(void **state)
{
  static const struct {
    const char *severe, *stage, *wanted;
  } rows[] = {
      {"", "look", "note"},
      {"", "dyno", "check"},
      {"", "delivery", "fix"},
      {"    severe: {when: p.value > 150 %, severity: {look: stop, dyno: stop, delivery: stop}}\n", "look", "note"},
      {"    severe: {when: p.value > 105 %, severity: {look: stop, dyno: check, delivery: fix}}\n", "look", "stop"},
      {"    severe: {when: p.value < 105 %, severity: {look: stop, dyno: check, delivery: fix}}\n", "look",
       "note"}, /* not flagged there */
      {"    severe: {when: p.x == 40 degC, severity: {look: stop, dyno: check, delivery: fix}}\n", "look",
       "stop"}, /* not the worst */
      {"    severe: {when: tune.launch.enabled, severity: {look: stop, dyno: stop, delivery: stop}}\n", "dyno",
       "check"},
  };
  (void)state;
  struct arena *arena = arena_new();
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    struct shop shop = shop_of(arena_print(arena,
                                           PACK "rules:\n" HEAD("r") SEVERITY POINTS
                                           "    flag: p.value > 105 %%\n    measure: p.value\n    say: x\n%s" TAIL,
                                           rows[i].severe));
    const struct outcome *outcome =
        shop_audit(&shop, (struct work_order){.settings = curve_settings, .stage = rows[i].stage}, NULL);
    assert_int_equal(outcome->finding_count, 1);
    if (strcmp(severity_name(outcome->findings[0].severity), rows[i].wanted) != 0)
      fail_msg("%s at %s is %s, not %s", rows[i].severe, rows[i].stage, severity_name(outcome->findings[0].severity),
               rows[i].wanted);
    shop_close(&shop);
  }
  arena_free(arena);
}

#define UNRAISED "    severity: {look: none, dyno: check, delivery: fix}\n"
#define UNRAISED_BUT "    severe: {when: tune.fuel.overrun_cut, severity: {look: stop, dyno: stop, delivery: stop}}\n"

static void rules_that_are_not_raised(void **state)
{
  static const struct {
    const char *body, *settings, *wanted;
  } rows[] = {
      {"    flag: true\n", "file.title: a\n", "not_applicable: not raised at the stage 'look'"},
      {"    flag: tune.launch.enabled\n", "file.title: a\n", "not_applicable: not raised at the stage 'look'"},
      {"    flag: true\n" UNRAISED_BUT, "fuel.overrun_cut: on\n", "flagged: x"},
      {"    flag: true\n" UNRAISED_BUT, "fuel.overrun_cut: off\n", "not_applicable: not raised at the stage 'look'"},
      {"    flag: true\n" UNRAISED_BUT, "file.title: a\n", "undecided: tune.fuel.overrun_cut"},
      {"    flag: false\n" UNRAISED_BUT, "file.title: a\n", "clear"},
  };
  (void)state;
  struct arena *arena = arena_new();
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    struct shop shop =
        shop_of(arena_print(arena, PACK "rules:\n" HEAD("r") UNRAISED "%s    say: x\n" TAIL, rows[i].body));
    const char *got =
        told(arena, shop_audit(&shop, (struct work_order){.settings = rows[i].settings, .stage = "look"}, NULL));
    if (strcmp(got, rows[i].wanted) != 0)
      fail_msg("%s%s is %s, not %s", rows[i].body, rows[i].settings, got, rows[i].wanted);
    shop_close(&shop);
  }
  arena_free(arena);
}

/* Each subject has one finding; the message, the measured number and the first evidence are of its worst place. */
static void one_finding_a_subject_worst_first(void **state)
{
  (void)state;
  struct shop shop =
      shop_of(PACK "rules:\n" RULE("r", "    each: a in axis_steps()\n    flag: not a.increasing\n    subject: "
                                        "a.setting\n    say: '{a.setting} {a.axis}: {a.from} to {a.to}'\n"));
  const struct outcome *outcome = shop_audit(
      &shop,
      (struct work_order){
          .settings = "ignition.coolant_correction: {x: {unit: degC, at: [0, 40, 40, 30]}, value: [1, 2, 3, 4]}\n"
                      "fuel.warm_up_enrichment: {x: {unit: degC, at: [0, 40, 30]}, value: [130, 110, 100]}\n"},
      NULL);
  assert_int_equal(outcome->finding_count, 2);
  assert_string_equal(outcome->findings[0].subject,
                      "tune.ignition.coolant_correction"); /* it stands first in the file */
  assert_int_equal(outcome->findings[0].evidence_count, 2);
  assert_string_equal(outcome->findings[0].evidence[0].text, "x axis, 40 to 40 degC");
  assert_string_equal(outcome->findings[0].evidence[1].text, "x axis, 40 to 30 degC");
  assert_string_equal(outcome->findings[1].subject, "tune.fuel.warm_up_enrichment");
  assert_string_equal(outcome->findings[1].message, "tune.fuel.warm_up_enrichment x: 40 degC to 30 degC");
  assert_true(strcmp(outcome->findings[0].identity, outcome->findings[1].identity) != 0);
  shop_close(&shop);

  shop = shop_of(PACK "limits:\n  most: {value: 20 deg, step: 1 deg, basis: derived, why: w}\nrules:\n" RULE(
      "r", "    each: c in cells(tune.ignition.spark_advance)\n    flag: c.value > limit.most\n    measure: c.value\n  "
           "  limit: limit.most\n"
           "    say: '{c.value} at {c.x}, {c.y}'\n"));
  outcome =
      shop_audit(&shop,
                 (struct work_order){.settings = "ignition.spark_advance:\n  x: [1000, 2000, 3000]\n  y: [50, 100]\n"
                                                 "  value:\n    rows:\n      - [10, 25, 30]\n      - [20, 30, 21]\n"},
                 NULL);
  static const char *const texts[] = {"3000 rpm, 50 kPa", "2000 rpm, 100 kPa", "2000 rpm, 50 kPa", "3000 rpm, 100 kPa"};
  static const unsigned long long lines[] = {7, 8, 7, 8};
  assert_int_equal(outcome->finding_count, 1);
  const struct finding *finding = &outcome->findings[0];
  assert_string_equal(finding->message, "30 deg at 3000 rpm, 50 kPa");
  assert_int_equal(finding->evidence_count, 4);
  for (size_t i = 0; i < 4; i++) {
    struct position position;
    assert_string_equal(finding->evidence[i].text, texts[i]);
    assert_true(sources_position(shop.run.sources, finding->evidence[i].place, &position));
    assert_int_equal(position.line, lines[i]);
  }
  assert_true(finding->has_measured && finding->has_limit);
  assert_string_equal(quantity_print(shop.run.arena, finding->measured, NULL, 0), "30 deg");
  assert_string_equal(quantity_print(shop.run.arena, finding->limit, NULL, 0), "20 deg");
  assert_string_equal(finding->limit_from, "limit.most");
  shop_close(&shop);
}

/* Two checks that speak of one subject give one finding, with each place once. */
static void checks_of_one_subject_are_one_finding(void **state)
{
  (void)state;
  struct shop shop = shop_of(PACK "rules:\n" RULE(
      "r", "    checks:\n"
           "      - {each: p in points(tune.fuel.warm_up_enrichment), flag: p.value > 105 %, measure: p.value, say: "
           "'First {p.value}.'}\n"
           "      - {each: p in points(tune.fuel.warm_up_enrichment), flag: p.x > 50 degC, say: 'Second {p.x}.', "
           "severe: {when: true, severity: {look: stop, dyno: stop, delivery: stop}}}\n"
           "      - {each: p in points(tune.fuel.warm_up_enrichment), flag: p.x < 10 degC, say: 'Third {p.x}.'}\n"));
  const struct outcome *outcome = shop_audit(&shop, (struct work_order){.settings = curve_settings}, NULL);
  assert_int_equal(outcome->finding_count, 1);
  assert_string_equal(outcome->findings[0].message, "First 130 %. Second 80 degC. Third 0 degC.");
  assert_int_equal(outcome->findings[0].severity, SEVERITY_STOP);
  assert_int_equal(outcome->findings[0].evidence_count, 3); /* 0 and 40 degC of the first, 80 degC of the second */
  shop_close(&shop);
}

static const struct sketch evidence[] = {
    /* a rule, and "text line:column" of its evidence */
    {POINTS "    flag: p.x == 40 degC\n    say: x\n", "40 degC 2:56"},
    {"    each: s in steps(tune.fuel.warm_up_enrichment)\n    flag: s.x == 0 degC\n    say: x\n", "0 to 40 degC 2:56"},
    {"    each: c in along_x(tune.ignition.spark_advance)\n    flag: c.value == 1 deg\n    say: x\n",
     "1000 to 2000 rpm, 50 kPa 3:87"},
    {"    each: c in along_y(tune.ignition.spark_advance)\n    flag: c.value == 1 deg\n    say: x\n",
     "1000 rpm, 50 to 100 kPa 3:92"},
    {"    each: a in axis_steps()\n    flag: a.axis == \"y\"\n    say: x\n", "y axis, 50 to 100 kPa 3:51"},
    {"    each: p in pins(tune.inputs)\n    flag: p.pin == \"in4\"\n    say: x\n", "brake_switch: IN4 4:44"},
    {"    each: p in shared_pins(tune.inputs)\n    flag: p.count == 2\n    say: x\n",
     "IN3: clutch_switch, launch_button 4:25 / IN3: clutch_switch, launch_button 4:64"},
    {"    each: s in spans(log.fan_output, 0.5 s)\n    flag: true\n    say: x\n", "1 s to 2 s 3:1"},
    {"    each: r in job.coolant\n    flag: r.measured > 70 degC\n    say: x\n",
     "measured 80 degC, logged 82 degC 3:52"},
    {"    each: c in changes()\n    flag: c.setting == \"tune.fuel.overrun_cut\"\n    say: x\n", "from off to on 5:20"},
    {"    flag: tune.fuel.overrun_cut and max(log.gear) > 1\n    say: x\n", "tune.fuel.overrun_cut 5:20"},
    {"    flag: max(log.gear) > 1\n    say: x\n", "log.gear 1:10"},
    {"    flag: tune.fuel.overrun_cut\n    places: [tune.inputs, tune.launch.enabled, log.gear, tune.inputs]\n    say: "
     "x\n",
     "tune.inputs 4:10 / log.gear 1:10"},
    {"    flag: true\n    say: x\n", ""},
};

static void evidence_has_its_place(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  size_t seen = 0;
  for (size_t i = 0; i < sizeof evidence / sizeof *evidence; i++) {
    const char *pack = arena_print(arena, PACK "rules:\n" HEAD("r") SEVERITY "%s" TAIL, evidence[i].body);
    struct shop shop = shop_of(pack);
    const struct outcome *outcome = shop_audit(
        &shop,
        (struct work_order){
            .settings =
                "fuel.warm_up_enrichment: {x: [0, 40, 80], value: [130, 110, 100]}\n"
                "ignition.spark_advance: {x: [1000, 2000], y: [50, 100], value: {unit: deg, rows: [[1, 2], [3, 4]]}}\n"
                "inputs: {clutch_switch: IN3, brake_switch: IN4, launch_button: IN3}\n"
                "fuel.overrun_cut:  on\n",
            .before = "fuel.overrun_cut: off\n",
            .job =
                "readings:\n  coolant: [{measured: 60 degC, logged: 62 degC}, {measured: 80 degC, logged: 82 degC}]\n",
            .log = wave_log},
        NULL);
    assert_int_equal(outcome->finding_count, 1);
    const char *got = "";
    for (size_t k = 0; k < outcome->findings[0].evidence_count; k++) {
      struct position position;
      const struct evidence *one = &outcome->findings[0].evidence[k];
      assert_true(sources_position(shop.run.sources, one->place, &position));
      got = arena_print(arena, "%s%s%s %ju:%ju", got, k > 0 ? " / " : "", one->text, (uintmax_t)position.line,
                        (uintmax_t)position.column);
    }
    if (strcmp(got, evidence[i].wanted) != 0)
      fail_msg("%s\n    is %s\n   not %s", evidence[i].body, got, evidence[i].wanted);
    shop_close(&shop);
    seen++;
  }
  assert_true(seen > 10);
  arena_free(arena);
}

/* The report's own lists: what was undecided, not applicable and clear is counted, and a rule's limit says where it
 * came from. */
static void the_outcome_counts_every_rule(void **state)
{
  (void)state;
  struct shop shop = shop_of(PACK "limits:\n  most: {value: 5 deg, step: 1 deg, basis: derived, why: w}\nrules:\n" RULE(
      "a", "    flag: tune.ignition.fixed_advance > limit.most\n    measure: tune.ignition.fixed_advance\n    limit: "
           "limit.most\n    say: x\n") RULE("b", "    flag: false\n    say: x\n")
                                 RULE("c", "    flag: tune.launch.enabled\n    say: x\n")
                                     RULE("d", "    applies: [{that: false, else: no}]\n    flag: true\n    say: x\n"));
  const struct outcome *outcome =
      shop_audit(&shop,
                 (struct work_order){.settings = "ignition.fixed_advance: 10 deg\n",
                                     .job = "limits: {most: {value: 7 deg, reason: it is cold}}\n"},
                 NULL);
  for (size_t v = 0; v < VERDICT_COUNT; v++)
    assert_int_equal(outcome->verdicts[v], 1);
  assert_string_equal(outcome->findings[0].limit_from, "limit.most, job sheet: it is cold");
  assert_string_equal(outcome->clear[0], "b");
  assert_string_equal(outcome->undecided[0].rule, "c");
  assert_string_equal(outcome->not_applicable[0].rule, "d");
  assert_int_equal(outcome->caution_count, 1);
  assert_string_equal(outcome->cautions[0].id, "practice");
  shop_close(&shop);
}

/* A finding that explains another stands as its cause; two that explain each other do not hide both. */
static void findings_explain_others(void **state)
{
  (void)state;
  struct shop shop = shop_of(PACK "rules:\n" RULE("cause", "    explains: [effect]\n    flag: true\n    say: x\n") RULE(
      "effect", "    explains: [cause]\n    flag: true\n    say: y\n") RULE("other", "    flag: true\n    say: z\n"));
  const struct outcome *outcome = shop_audit(&shop, (struct work_order){0}, NULL);
  assert_int_equal(outcome->finding_count, 3);
  size_t roots = 0;
  for (size_t i = 0; i < 3; i++)
    roots += outcome->findings[i].cause == NULL;
  assert_int_equal(roots, 2);
  shop_close(&shop);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(checks_in_pairs),
      cmocka_unit_test(conditions_come_first),
      cmocka_unit_test(items_are_judged_one_by_one),
      cmocka_unit_test(severities),
      cmocka_unit_test(rules_that_are_not_raised),
      cmocka_unit_test(one_finding_a_subject_worst_first),
      cmocka_unit_test(checks_of_one_subject_are_one_finding),
      cmocka_unit_test(evidence_has_its_place),
      cmocka_unit_test(the_outcome_counts_every_rule),
      cmocka_unit_test(findings_explain_others),
  };
  return cmocka_run_group_tests_name("audit judge", tests, NULL, NULL);
}
