/* Messages: what is put in for {expressions}, with rounding and other units. Units by GNU units 2.22. */
#include "rules_help.h"

struct text {
  const char *say, *wanted;
};

static const struct text texts[] = {
    {"plain", "plain"},
    {"It is {tune.ignition.fixed_advance}.", "It is 10 deg."},
    {"{tune.ignition.fixed_advance}{tune.ignition.fixed_advance}", "10 deg10 deg"},
    {"{tune.boost.duty_maximum}", "66.67 %"},
    {"{tune.boost.duty_maximum | 0.1}", "66.7 %"},
    {"{tune.boost.duty_maximum | 5}", "65 %"},
    {"{tune.boost.duty_maximum|1 %}", "67 %"},
    {"{tune.protection.boost_cut_pressure}", "14.5 psi"},
    {"{tune.protection.boost_cut_pressure | kPa}", "99.974 kPa"},
    {"{tune.protection.boost_cut_pressure | 0.1 kPa}", "100 kPa"},
    {"{tune.protection.boost_cut_pressure | 10 kPa}", "100 kPa"},
    {"{tune.protection.boost_cut_pressure | 0.01 bar }", "1 bar"},
    {"{tune.protection.coolant_limit}", "230 degF"},
    {"{tune.protection.coolant_limit | degC}", "110 degC"},
    {"{tune.protection.coolant_limit - 100 degC | K}", "10 K"},
    {"{tune.protection.coolant_limit - 100 degC | degF_diff}", "18 degF"},
    {"{80 degC - 80 degC}", "0 K"},
    {"{tune.launch.speed_limit}", "?"},
    {"{tune.launch.speed_limit | 10 rpm}", "?"},
    {"{tune.protection.boost_cut}", "on"},
    {"{tune.fuel.overrun_cut}", "off"},
    {"{tune.protection.boost_cut and true}", "yes"},
    {"{not tune.protection.boost_cut}", "no"},
    {"{tune.launch.enabled}", "?"},
    {"{tune.ignition.timing_mode}", "table"},
    {"{tune.file.title}", "A {brace} and a \"quote\""},
    {"{stage}", "delivery"},
    {"{pin_of(tune.inputs, \"clutch_switch\")}", "IN3"},
    {"{pin_of(tune.inputs, 'clutch_switch')}", "IN3"},
    {"{if(\"a|b\" == tune.file.title, 1 deg, 2 deg) | 0.5}", "2 deg"},
    {"{{}}", "{}"},
    {"{{{stage}}}", "{delivery}"},
    {"100 %", "100 %"},
    {"%s %n %d {stage} %", "%s %n %d delivery %"},
    {"two\\nlines", "two\\nlines"},
    {"limit {limit.hot} and {limit.hot + 5 K}", "limit 90 degC and 95 degC"},
    {"\xc3\xa4 {stage} \xe2\x82\xac", "\xc3\xa4 delivery \xe2\x82\xac"},
};

static void messages_are_filled_in(void **state)
{
  (void)state;
  size_t count = sizeof texts / sizeof *texts;
  struct arena *arena = arena_new();
  const char *pack = PACK "limits:\n  hot: {value: 90 degC, step: 1 K, basis: derived, why: w}\nrules:\n";
  for (size_t i = 0; i < count; i++) {
    const char *say = texts[i].say;
    char *doubled = arena_alloc(arena, 2 * strlen(say) + 1), *to = doubled; /* for YAML's single quotes */
    for (const char *from = say; *from; from++) {
      if (*from == '\'')
        *to++ = '\'';
      *to++ = *from;
    }
    pack = arena_print(arena, "%s" HEAD("r%03zu") SEVERITY "    flag: true\n    say: '%s'\n" TAIL, pack, i, i, doubled);
  }
  struct shop shop = shop_of(pack);
  const struct outcome *outcome =
      shop_audit(&shop,
                 (struct work_order){
                     .settings = "file.title: 'A {brace} and a \"quote\"'\nignition.fixed_advance: 10 deg\n"
                                 "ignition.timing_mode: table\nboost.duty_maximum: 66.67 %\n"
                                 "protection.boost_cut_pressure: 14.5 psi\nprotection.coolant_limit: 230 degF\n"
                                 "protection.boost_cut: on\nfuel.overrun_cut: off\ninputs: {clutch_switch: IN3}\n"},
                 NULL);
  assert_int_equal(outcome->finding_count, count);
  for (size_t i = 0; i < count; i++) {
    const struct finding *finding = NULL;
    const char *id = arena_print(arena, "r%03zu", i);
    for (size_t k = 0; k < count; k++)
      finding = strcmp(outcome->findings[k].id, id) == 0 ? &outcome->findings[k] : finding;
    assert_non_null(finding);
    if (strcmp(finding->message, texts[i].wanted) != 0)
      fail_msg("'%s' gives '%s', not '%s'", texts[i].say, finding->message, texts[i].wanted);
  }
  shop_close(&shop);
  arena_free(arena);
}

/* `do:` is filled in like `say:`, with lets that use the item; who reads the rule alone sees its outline. A check may
 * have one of its own. */
static void what_to_do_is_filled_in(void **state)
{
  (void)state;
  struct shop shop = shop_of(PACK "rules:\n" HEAD("a") SEVERITY
                             "    let: {half: 4 / 2, wait: 2 s, rise: s.next_value - s.value, twice: rise * half}\n"
                             "    needs: [{that: half > 1 and wait > 1 s, else: x}]\n"
                             "    each: s in steps(tune.fuel.warm_up_enrichment)\n"
                             "    flag: twice > 2 %\n    measure: twice\n    say: 'up by {rise}'\n"
                             "    why: w\n    do: |\n      {{Lower}} it by {rise - 1 % | 0.5} at {s.next_x}.\n"
                             "    verify: v\n    by_design: b\n    basis: derived\n    cautions: [practice]\n" HEAD("b")
                                 SEVERITY "    checks:\n"
                                          "      - {flag: true, subject: tune.inputs, say: one, do: 'own {stage}'}\n"
                                          "      - {flag: true, subject: tune.outputs, say: two}\n" TAIL);
  assert_string_equal(shop.packs->rules[0]->act, "{Lower} it by [rise - 1 %] at [s.next_x].");
  const struct outcome *outcome =
      shop_audit(&shop,
                 (struct work_order){.settings = "fuel.warm_up_enrichment: {x: {unit: degC, at: [0, 40, 80]}, value: "
                                                 "{unit: '%', at: [120, 125.3, 100]}}\n"},
                 NULL);
  assert_int_equal(outcome->finding_count, 3);
  size_t seen = 0;
  for (size_t i = 0; i < 3; i++) {
    const struct finding *finding = &outcome->findings[i];
    const char *wanted = strcmp(finding->id, "a") == 0                  ? "{Lower} it by 4.5 % at 40 degC."
                         : strcmp(finding->subject, "tune.inputs") == 0 ? "own delivery"
                                                                        : "d";
    assert_string_equal(finding->act, wanted);
    seen += strcmp(finding->id, "a") == 0;
  }
  assert_int_equal(seen, 1);
  shop_close(&shop);
}

static const struct wrong wrong[] = {
    {"{tune.nope}", "10:12 'tune.nope' 'tune.nope' is not in the vocabulary | -"},
    {"{1 +}", "10:15 '}' the expression ends where a value is expected | -"},
    {"{}", "10:12 '}' the expression ends where a value is expected | -"},
    {"{log.gear}", "10:12 'log.gear' a series of numbers (plain number) cannot be put into a message | -"},
    {"{tune.inputs}", "10:12 'tune.inputs' a set of pins cannot be put into a message | -"},
    {"{pins(tune.inputs)}", "10:12 'pins(tune.inputs)' a collection cannot be put into a message | -"},
    {"{true | 3}", "10:19 '3' only numbers are rounded or shown in another unit | -"},
    {"{3 | -1}", "10:16 '-1' a rounding step is above 0 | -"},
    {"{3 | 0}", "10:16 '0' a rounding step is above 0 | -"},
    {"{3 | }", "10:15 ' ' a rounding step or a unit is expected after '|' | -"},
    {"{3 | xyz}", "10:16 'xyz' unknown unit 'xyz' | -"},
    {"{3 rpm | 1 kPa}", "10:20 '1 kPa' a number (speed of rotation) cannot be shown in 'kPa' | -"},
    {"{80 degC | degF_diff}", "10:22 'degF_diff' a number (temperature) cannot be shown in 'degF_diff' | -"},
    {"a { b", "10:13 '{' this '{' has no '}'; a brace as such is written '{{' | -"},
    {"a } b", "10:13 '}' this '}' has no '{'; a brace as such is written '}}' | -"},
    {"{tune.nope} and {log.nope}", "10:12 'tune.nope' 'tune.nope' is not in the vocabulary | -\n"
                                   "10:28 'log.nope' 'log.nope' is not in the vocabulary | -"},
};

static void wrong_messages_are_refused_with_their_place(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
    struct shop shop = SHOP(
        arena_print(arena, PACK "rules:\n" HEAD("r") SEVERITY "    flag: true\n    say: '%s'\n" TAIL, wrong[i].bytes));
    if (shop.packs)
      fail_msg("accepted: %s", wrong[i].bytes);
    const char *got = run_said(&shop.run);
    if (strcmp(got, wrong[i].said) != 0)
      fail_msg("%s\n    says %s\n    not  %s", wrong[i].bytes, got, wrong[i].said);
    shop_close(&shop);
  }
  arena_free(arena);
}

/* The longest message that YAML lets through is filled in without taking memory by the square of its length. */
static void long_messages(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  size_t size = LIMIT_YAML_SCALAR - 8;
  char *say = arena_alloc(arena, size + 1);
  for (size_t i = 0; i + 7 <= size; i += 7)
    memcpy(say + i, "{stage}", 7);
  struct shop shop =
      shop_of(arena_print(arena, PACK "rules:\n" HEAD("r") SEVERITY "    flag: true\n    say: '%s'\n" TAIL, say));
  size_t before = arena_used(shop.run.arena);
  const struct outcome *outcome = shop_audit(&shop, (struct work_order){0}, NULL);
  assert_int_equal(strlen(outcome->findings[0].message), size / 7 * strlen("delivery"));
  assert_true(arena_used(shop.run.arena) - before < 4 * 1024 * 1024);
  shop_close(&shop);
  arena_free(arena);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(messages_are_filled_in),
      cmocka_unit_test(what_to_do_is_filled_in),
      cmocka_unit_test(wrong_messages_are_refused_with_their_place),
      cmocka_unit_test(long_messages),
  };
  return cmocka_run_group_tests_name("rules template", tests, NULL, NULL);
}
