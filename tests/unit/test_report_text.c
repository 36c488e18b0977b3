/* The text report of hand-built outcomes. */
#include "report_sample.h"

#include "report/escape.h"

/* `wanted` stands in `text`, and behind `*from`, which moves on. */
static void assert_next(const char *text, size_t *from, const char *wanted)
{
  const char *at = strstr(text + *from, wanted);
  if (at == NULL)
    fail_msg("'%s' is not where it should be in:\n%s", wanted, text + *from);
  *from = (size_t)(at - text) + strlen(wanted);
}

static void test_text_order(void **state)
{
  (void)state;
  struct sample sample = sample_new();
  char *text = sample_write(&sample, report_text, false);
  static const char *const parts[] = {
      "Sandpiper\nsettings  settings.yaml\nlog       l\\x1bog.csv\nstage     delivery: about to leave\n",
      "\n2 findings: 1 stop, 1 fix.\n",
      "\nSTOP   Coolant \\x1b[2Jgets too hot (too-hot)\n",
      "log channel coolant_temperature, 12.4 s to 15 s\n",
      "Measured 118 degC, limit 5 K (limit.hot, job sheet: thermostat opens at 82).\n",
      "\nFIX    Warm-up enrichment still acts on a warm engine (warmup-not-unity-hot)\n",
      "       settings.yaml:5:32: setting fuel.warm_up_enrichment, 176 degF\n",
      "Measured 104 %, limit 1 % (limit.warm_up_tolerance).\n",
      "Also at 5:37 (194 degF: 103 %); 5:42 (212 degF: 102 %); 5:47 (230 degF: 102 %)\n       and 1 more place.\n",
      "Why: Fuel is wasted.\n",
      "Do: Bring it to 100 %.\n",
      "Prove it by hand: Warm the engine and look.\n",
      "Meant to be so when: A race engine that runs cold.\n",
      "Basis: common practice\n",
      "Mind: WARNING haz-hot; NOTICE haz-practice",
      "\nCAUTIONS\n  WARNING haz-hot\n    Hot coolant burns.\n  NOTICE haz-practice\n",
      "\nCOULD NOT BE CHECKED",
      "With a job sheet (--job FILE): 2 rules: base-timing, strobe\n",
      "With a job sheet (--job FILE) and setting idle.valve_sense: 1 rule: idle-sense\n",
      "With log channel idle_valve_duty: 1 rule: idle-slope\n",
      "warmup-in-log: the log never reaches working temperature\n",
      "\nDOES NOT APPLY\n  boost-slope: the engine is not boosted\n",
      "\nCHECKED AND CLEAR\n  pin-shared, axis-not-increasing\n",
      "warm_up_end: 176 degF instead of 77 degC, from the job sheet: thermostat opens at\n",
      "\nABOUT THE LOG\n  log.csv:3:1: time runs backwards\n",
      "\nRULES REPLACED OR SILENCED\n  pin-shared: replaced by shop.yaml\n",
      "\nOf 10 rules: 2 flagged, 2 clear, 5 undecided, 1 not applicable.\n",
      "exit 1: 2 findings at fix or over\n"};
  size_t from = 0;
  for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
    assert_next(text, &from, parts[i]);
  assert_int_equal(from, strlen(text));
  free(text);
  arena_free(sample.arena);
}

/* Each caution stands once in full; nothing raw, nothing over 88 columns, no blank at the end of a line. */
static void test_text_lines(void **state)
{
  (void)state;
  struct sample sample = sample_new();
  char *text = sample_write(&sample, report_text, false);
  assert_ptr_equal(strstr(text, "Hot coolant burns."), strstr(strstr(text, "CAUTIONS"), "Hot coolant burns."));
  assert_null(strstr(strstr(text, "Hot coolant burns.") + 1, "Hot coolant burns."));
  size_t lines = 0;
  for (char *line = text, *end; (end = strchr(line, '\n')) != NULL; line = end + 1, lines++) {
    struct slice one = {line, (size_t)(end - line)};
    assert_true(escape_columns(one) <= 88);
    assert_true(one.size == 0 || one.at[one.size - 1] != ' ');
    for (size_t i = 0; i < one.size; i++)
      assert_true((unsigned char)one.at[i] >= ' ' && one.at[i] != '\x7f');
  }
  assert_true(lines > 30);
  assert_null(strstr(text, "\xE2\x80"));
  free(text);
  arena_free(sample.arena);
}

/* What the message says is not said again, unless the limit is not the usual one. */
static void test_text_measure_said(void **state)
{
  (void)state;
  struct sample sample = sample_new();
  struct finding *findings = ARENA_ARRAY(sample.arena, 1, struct finding);
  findings[0] = sample_warm_up(sample.arena);
  findings[0].message = "It is 104 %, over 1 %.";
  sample.outcome.findings = findings;
  sample.outcome.finding_count = 1;
  char *text = sample_write(&sample, report_text, false);
  assert_null(strstr(text, "Measured"));
  free(text);
  findings[0].limit_from = "job sheet: a race engine";
  text = sample_write(&sample, report_text, false);
  assert_non_null(strstr(text, "Measured 104 %, limit 1 % (job sheet: a race engine).\n"));
  free(text);
  arena_free(sample.arena);
}

/* A second finding of a rule repeats the message and the place, not the advice; what an evidence adds to its subject is
 * said once. */
static void test_text_same_rule(void **state)
{
  (void)state;
  struct sample sample = sample_new();
  struct finding *findings = ARENA_ARRAY(sample.arena, 2, struct finding);
  struct evidence evidence[] = {{.place = {1, 0, 1}, .text = "brake_switch: IN6"},
                                {.place = {1, 1, 2}, .text = "tune.inputs"}};
  for (size_t i = 0; i < 2; i++) {
    findings[i] = sample_warm_up(sample.arena);
    findings[i].evidence = &evidence[i];
    findings[i].evidence_count = 1;
    findings[i].subject = i == 0 ? "brake_switch" : "tune.inputs";
  }
  sample.outcome.findings = findings;
  char *text = sample_write(&sample, report_text, false);
  assert_non_null(strstr(text, "       settings.yaml:1:1: brake_switch: IN6\n"));
  assert_non_null(strstr(text, "       settings.yaml:1:2: setting inputs\n"));
  size_t from = 0;
  assert_next(text, &from, "Why: Fuel is wasted.\n");
  assert_next(text, &from, "Why, what to do, how to prove it: as said above under the same rule.\n");
  assert_null(strstr(text + from, "Fuel is wasted"));
  free(text);
  arena_free(sample.arena);
}

/* Colour adds codes and nothing else. */
static void test_text_color(void **state)
{
  (void)state;
  struct sample sample = sample_new();
  char *plain = sample_write(&sample, report_text, false), *color = sample_write(&sample, report_text, true);
  assert_non_null(strstr(color, "\x1b[1;31mSTOP\x1b[0m"));
  char *to = color;
  for (const char *from = color; *from != '\0';) {
    if (*from == '\x1b') {
      from += strcspn(from, "m") + 1;
      continue;
    }
    *to++ = *from++;
  }
  *to = '\0';
  assert_string_equal(color, plain);
  free(plain);
  free(color);
  arena_free(sample.arena);
}

/* A clean report still says what was and was not checked, and that it is no approval. */
static void test_text_clean(void **state)
{
  (void)state;
  struct sample sample = sample_clean();
  char *text = sample_write(&sample, report_text, false);
  static const char *const parts[] = {"\nNo findings among the rules that could be decided.\n",
                                      "\nCOULD NOT BE CHECKED",
                                      "\nCHECKED AND CLEAR\n",
                                      "Of 8 rules: 0 flagged, 2 clear, 5 undecided, 1 not applicable.\n",
                                      "This report is a second look, not approval. Local law,",
                                      "\nexit 0: no findings\n"};
  size_t from = 0;
  for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
    assert_next(text, &from, parts[i]);
  assert_int_equal(from, strlen(text));
  free(text);
  arena_free(sample.arena);
}

static void test_text_refused(void **state)
{
  (void)state;
  struct sample sample = sample_clean();
  problems_add(&sample.problems, sample_place("Sandpiper"), "no such bird");
  sample.outcome =
      (struct outcome){.stage = "look", .problems = &sample.problems, .fail_on = SEVERITY_FIX, .need = 1, .exit = 3};
  char *text = sample_write(&sample, report_text, false);
  static const char *const parts[] = {"Not audited\n", "settings.yaml:2:13: no such bird\n",
                                      "    file.title: Sandpiper\n                ^^^^^^^^^\n",
                                      "exit 3: 1 problem in the inputs; nothing was audited\n"};
  size_t from = 0;
  for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
    assert_next(text, &from, parts[i]);
  assert_null(strstr(text, "No findings"));
  assert_null(strstr(text, "flagged"));
  free(text);
  arena_free(sample.arena);
}

/* Nothing checked does not read like nothing found. */
static void test_text_undecided(void **state)
{
  (void)state;
  struct sample sample = sample_clean();
  sample.outcome.verdicts[VERDICT_CLEAR] = 0;
  sample.outcome.clear_count = 0;
  sample.outcome.exit = 4;
  char *text = sample_write(&sample, report_text, false);
  size_t from = 0;
  assert_next(text, &from, "\nNo rule could be decided.\n");
  assert_next(text, &from, "exit 4: no rule could be decided; --need asks for 1\n");
  assert_null(strstr(text, "No findings"));
  free(text);
  arena_free(sample.arena);
}

static void assert_reason(struct sample *sample, int status, enum severity fail_on, const char *wanted)
{
  sample->outcome.exit = status;
  sample->outcome.fail_on = fail_on;
  assert_string_equal(report_reason(sample->arena, &sample->outcome), wanted);
}

static void test_text_reasons(void **state)
{
  (void)state;
  struct sample sample = sample_new();
  assert_reason(&sample, 1, SEVERITY_STOP, "exit 1: 1 finding at stop");
  assert_reason(&sample, 1, SEVERITY_NOTE, "exit 1: 2 findings at note or over");
  assert_reason(&sample, 0, SEVERITY_NONE, "exit 0: 2 findings; none counts with --fail-on never");
  sample.outcome.finding_count = 1;
  assert_reason(&sample, 0, SEVERITY_STOP, "exit 0: no findings at stop; 1 below");
  sample.outcome.verdicts[VERDICT_FLAGGED] = 0;
  sample.outcome.verdicts[VERDICT_CLEAR] = 1;
  sample.outcome.need = 3;
  assert_reason(&sample, 4, SEVERITY_FIX, "exit 4: only 1 rule could be decided; --need asks for 3");
  assert_reason(&sample, 5, SEVERITY_FIX, "exit 5: a fault of the program itself");
  arena_free(sample.arena);
}

static void test_text_total(void **state)
{
  (void)state;
  struct report_total total = {.files = 3, .at_status = {1, 1, 0, 1, 0, 0}, .fail_on = SEVERITY_FIX, .exit = 3};
  char *bytes = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&bytes, &size);
  assert_non_null(out);
  report_text_total(out, &total);
  total.exit = 1;
  report_text_total(out, &total);
  assert_int_equal(fclose(out), 0);
  assert_string_equal(bytes, "exit 3: 1 of 3 settings files could not be read\n"
                             "exit 1: 1 of 3 settings files have findings at fix or over\n");
  free(bytes);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_text_order),        cmocka_unit_test(test_text_lines),
      cmocka_unit_test(test_text_measure_said), cmocka_unit_test(test_text_same_rule),
      cmocka_unit_test(test_text_color),        cmocka_unit_test(test_text_clean),
      cmocka_unit_test(test_text_refused),      cmocka_unit_test(test_text_undecided),
      cmocka_unit_test(test_text_reasons),      cmocka_unit_test(test_text_total),
  };
  return cmocka_run_group_tests_name("report/text", tests, NULL, NULL);
}
