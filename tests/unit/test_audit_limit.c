/* A curve judged at a limit: at it, beyond it, and where the edge value holds, for limits before, at, between and after
 * the points of the curve. A curve is the function that rules/LANGUAGE.md, section 5, says it is (common practice: it
 * is what the controller does with it). */
#include "rules_help.h"

#define WARM(limit)                                                                       \
  PACK "limits:\n  warm: {value: " limit ", step: 1 degC_diff, basis: derived, why: w}\n" \
       "  near: {value: 1 %, step: 1 %, basis: derived, why: w}\nrules:\n"

static const char *const rule = RULE(
    "r",
    "    each: p in points(tune.fuel.warm_up_enrichment, limit.warm)\n    flag: abs(p.value - 100 %) > limit.near\n"
    "    measure: p.value\n    limit: 100 %\n    say: '{p.value} at {p.x}'\n");

/* wanted: "x: value (the text in the file at its place)" of the evidence, worst first; or "clear" */
struct judged {
  const char *warm;  /* the limit, as a job sheet writes it */
  const char *curve; /* settings */
  const char *wanted;
};

#define CURVE(x, value) \
  "fuel.warm_up_enrichment: {x: {unit: degC, at: [" x "]}, value: {unit: \"%\", at: [" value "]}}\n"

static const struct judged judgements[] = {
    /* before the first point: the edge value holds at the limit, then every point */
    {"80 degC", CURVE("90, 100", "110, 100"), "80 degC: 110 % (110), 90 degC: 110 % (110)"},
    {"80 degC", CURVE("90, 100", "101, 99"), "clear"},
    {"80 degC", CURVE("90, 100", "101, 98.9"), "100 degC: 98.9 % (98.9)"},
    /* at a point */
    {"80 degC", CURVE("0, 80, 90", "150, 102, 100"), "80 degC: 102 % (102)"},
    {"80 degC", CURVE("0, 80, 90", "150, 101, 100"), "clear"},
    {"176 degF", CURVE("0, 80, 90", "150, 102, 100"), "80 degC: 102 % (102)"},
    {"80 degC",
     "fuel.warm_up_enrichment: {x: {unit: degF, at: [32, 176, 194]}, value: {unit: \"%\", at: [150, 101, 100]}}\n",
     "clear"},
    {"353.15 K", CURVE("0, 80, 90", "150, 101, 100"), "clear"},
    /* between two points: the straight line between them, placed at the nearer one */
    {"80 degC", CURVE("0, 70, 90", "150, 104, 100"), "80 degC: 102 % (104)"},
    {"80 degC", CURVE("0, 70, 90", "150, 102, 100"), "clear"},
    {"80 degC", CURVE("0, 70, 100", "150, 106, 97"), "80 degC: 103 % (106), 100 degC: 97 % (97)"},
    {"80 degC", CURVE("0, 79, 129", "150, 102, 97"), "129 degC: 97 % (97), 80 degC: 101.9 % (102)"},
    {"80 degC", CURVE("0, 40, 90", "150, 120, 102"), "80 degC: 105.6 % (102), 90 degC: 102 % (102)"},
    /* at and after the last point: the edge value holds for ever */
    {"80 degC", CURVE("0, 40, 80", "150, 120, 102"), "80 degC: 102 % (102)"},
    {"80 degC", CURVE("0, 40, 60", "150, 120, 105"), "80 degC: 105 % (105)"},
    {"80 degC", CURVE("0, 40, 60", "150, 120, 101"), "clear"},
    {"80 degC", CURVE("60", "105"), "80 degC: 105 % (105)"},
    {"80 degC", CURVE("80", "105"), "80 degC: 105 % (105)"},
    {"80 degC", CURVE("95", "99"), "clear"},
    {"80 degC", CURVE("95", "95"), "80 degC: 95 % (95), 95 degC: 95 % (95)"},
};

static const char *told(struct arena *arena, struct shop *shop, const struct outcome *outcome)
{
  const char *out = verdict_name(VERDICT_CLEAR);
  if (outcome->verdicts[VERDICT_CLEAR] == 1)
    return out;
  if (outcome->verdicts[VERDICT_UNDECIDED] == 1)
    return outcome->undecided[0].missing[0];
  assert_int_equal(outcome->finding_count, 1);
  const struct finding *finding = &outcome->findings[0];
  out = "";
  for (size_t i = 0; i < finding->evidence_count; i++) {
    struct position position;
    const struct evidence *one = &finding->evidence[i];
    assert_true(sources_position(shop->run.sources, one->place, &position));
    const char *x = quantity_print(arena, one->x, NULL, 0);
    assert_string_equal(one->text, x);
    out = arena_print(arena, "%s%s%s: %s (%.*s)", out, i > 0 ? ", " : "", x, quantity_print(arena, one->value, NULL, 0),
                      SLICE_ARG(slice_part(position.text, position.from, position.to)));
  }
  const char *message = arena_print(arena, "%s at %s", quantity_print(arena, finding->evidence[0].value, NULL, 0),
                                    finding->evidence[0].text);
  assert_string_equal(finding->message, message);
  return out;
}

static void curves_at_and_beyond_a_limit(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  size_t count = sizeof judgements / sizeof *judgements;
  for (size_t i = 0; i < count; i++) {
    const struct judged *one = &judgements[i];
    struct shop shop = shop_of(arena_print(arena, "%s%s", WARM("70 degC"), rule));
    const char *job = arena_print(arena, "limits: {warm: {value: %s, reason: its thermostat}}\n", one->warm);
    const char *got =
        told(arena, &shop, shop_audit(&shop, (struct work_order){.settings = one->curve, .job = job}, NULL));
    if (strcmp(got, one->wanted) != 0)
      fail_msg("from %s: %s    is %s\n   not %s", one->warm, one->curve, got, one->wanted);
    shop_close(&shop);
  }
  arena_free(arena);
}

static void a_curve_that_is_no_function(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  struct shop shop = shop_of(arena_print(arena, "%s%s", WARM("70 degC"), rule));
  const struct outcome *outcome =
      shop_audit(&shop, (struct work_order){.settings = CURVE("0, 80, 80", "150, 120, 100")}, NULL);
  assert_string_equal(told(arena, &shop, outcome), "tune.fuel.warm_up_enrichment with axes that increase");
  shop_close(&shop);
  arena_free(arena);
}

static const struct judged ranges[] = {
    /* from 20 to 60 degC, both included */
    {"", CURVE("0, 40, 80", "140, 120, 100"), "20 degC; 40 degC; 60 degC"},
    {"", CURVE("20, 40, 60", "140, 120, 100"), "20 degC; 40 degC; 60 degC"},
    {"", CURVE("70, 80", "140, 120"), "20 degC; 60 degC"},
    {"", CURVE("0, 10", "140, 120"), "20 degC; 60 degC"},
    {"", CURVE("40", "120"), "20 degC; 40 degC; 60 degC"},
};

static void a_curve_between_two_ends(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  for (size_t i = 0; i < sizeof ranges / sizeof *ranges; i++) {
    struct shop shop = shop_of(PACK "rules:\n" RULE(
        "r", "    each: p in points(tune.fuel.warm_up_enrichment, 20 degC, 60 degC)\n    flag: true\n"
             "    measure: 1000 K - (p.x - 0 degC)\n    say: x\n"));
    const struct outcome *outcome = shop_audit(&shop, (struct work_order){.settings = ranges[i].curve}, NULL);
    const char *got = "";
    for (size_t k = 0; k < outcome->findings[0].evidence_count; k++)
      got = arena_print(arena, "%s%s%s", got, k > 0 ? "; " : "", outcome->findings[0].evidence[k].text);
    assert_string_equal(got, ranges[i].wanted);
    shop_close(&shop);
  }
  arena_free(arena);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(curves_at_and_beyond_a_limit),
      cmocka_unit_test(a_curve_that_is_no_function),
      cmocka_unit_test(a_curve_between_two_ends),
  };
  return cmocka_run_group_tests_name("audit limit", tests, NULL, NULL);
}
