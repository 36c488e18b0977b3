/* The JSON report of hand-built outcomes, read back with jansson. */
#include "report_sample.h"

#include <jansson.h>

/* To be released with json_decref; the text is one line of ASCII. */
static json_t *parsed(struct sample *sample)
{
  char *text = sample_write(sample, report_json, true);
  size_t size = strlen(text);
  assert_true(size > 2 && text[size - 1] == '\n');
  for (size_t i = 0; i + 1 < size; i++)
    assert_true(text[i] >= ' ' && text[i] <= '~');
  json_error_t error;
  json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, &error);
  if (root == NULL)
    fail_msg("%s", error.text);
  free(text);
  return root;
}

static const char *text_at(const json_t *object, const char *key)
{
  const json_t *value = json_object_get(object, key);
  assert_true(json_is_string(value));
  return json_string_value(value);
}

static double number_at(const json_t *object, const char *key)
{
  const json_t *value = json_object_get(object, key);
  assert_true(json_is_number(value));
  return json_number_value(value);
}

static void assert_null_at(const json_t *object, const char *key)
{
  assert_true(json_is_null(json_object_get(object, key)));
}

static void test_json_pinned_names(void **state)
{
  (void)state;
  static const char *const of_report[] = {"keyway",   "stage",     "inputs",   "findings",
                                          "verdicts", "undecided", "problems", "exit"};
  static const char *const of_finding[] = {"rule",   "severity", "title",    "message",  "file",     "line",
                                           "column", "subject",  "evidence", "measured", "limit",    "unit",
                                           "why",    "do",       "verify",   "cautions", "identity", "waived"};
  static const char *const of_evidence[] = {"file", "line",  "column", "text",  "x",
                                            "y",    "value", "unit",   "start", "end"};
  struct sample sample = sample_new();
  json_t *root = parsed(&sample);
  for (size_t i = 0; i < sizeof of_report / sizeof of_report[0]; i++)
    assert_non_null(json_object_get(root, of_report[i]));
  const json_t *finding = json_array_get(json_object_get(root, "findings"), 1);
  for (size_t i = 0; i < sizeof of_finding / sizeof of_finding[0]; i++)
    assert_non_null(json_object_get(finding, of_finding[i]));
  const json_t *evidence = json_array_get(json_object_get(finding, "evidence"), 0);
  for (size_t i = 0; i < sizeof of_evidence / sizeof of_evidence[0]; i++)
    assert_non_null(json_object_get(evidence, of_evidence[i]));
  json_decref(root);
  arena_free(sample.arena);
}

static void test_json_report(void **state)
{
  (void)state;
  struct sample sample = sample_new();
  json_t *root = parsed(&sample);
  assert_string_equal(text_at(root, "keyway"), "0.0.0");
  assert_string_equal(text_at(root, "stage"), "delivery");
  assert_int_equal(json_integer_value(json_object_get(root, "exit")), 1);
  const json_t *log = json_array_get(json_object_get(root, "inputs"), 1);
  assert_string_equal(text_at(log, "role"), "log");
  assert_string_equal(text_at(log, "file"), "l\x1bog.csv");
  const json_t *verdicts = json_object_get(root, "verdicts");
  static const int wanted[VERDICT_COUNT] = {2, 2, 5, 1};
  for (int i = 0; i < VERDICT_COUNT; i++)
    assert_int_equal(number_at(verdicts, verdict_name((enum verdict)i)), wanted[i]);
  assert_int_equal(json_object_size(verdicts), VERDICT_COUNT);
  const json_t *undecided = json_array_get(json_object_get(root, "undecided"), 1);
  assert_string_equal(text_at(undecided, "rule"), "idle-sense");
  const json_t *missing = json_array_get(json_object_get(undecided, "missing"), 0);
  assert_string_equal(json_string_value(missing), "tune.idle.valve_sense");
  assert_int_equal(json_array_size(json_object_get(root, "problems")), 0);
  json_decref(root);
  arena_free(sample.arena);
}

/* Values in the units of the source; places and order as in the outcome; evidence whole. */
static void test_json_finding(void **state)
{
  (void)state;
  struct sample sample = sample_new();
  json_t *root = parsed(&sample);
  const json_t *finding = json_array_get(json_object_get(root, "findings"), 1);
  assert_string_equal(text_at(finding, "rule"), "warmup-not-unity-hot");
  assert_string_equal(text_at(finding, "severity"), "fix");
  assert_string_equal(text_at(finding, "file"), "settings.yaml");
  assert_int_equal(number_at(finding, "line"), 5);
  assert_int_equal(number_at(finding, "column"), 32);
  assert_true(number_at(finding, "measured") == 104.0);
  assert_true(number_at(finding, "limit") == 1.0);
  assert_string_equal(text_at(finding, "unit"), "%");
  assert_true(json_is_false(json_object_get(finding, "waived")));
  const json_t *evidence = json_object_get(finding, "evidence");
  assert_int_equal(json_array_size(evidence), 5);
  const json_t *last = json_array_get(evidence, 4);
  assert_true(number_at(last, "x") == 248.0);
  assert_string_equal(text_at(last, "x_unit"), "degF");
  assert_true(number_at(last, "value") == 102.0);
  assert_null_at(last, "y");
  assert_null_at(last, "start");
  const json_t *cautions = json_object_get(finding, "cautions");
  assert_string_equal(json_string_value(json_array_get(cautions, 0)), "haz-hot");
  json_decref(root);
  arena_free(sample.arena);
}

/* Times in seconds; a step of temperature is not turned into a temperature; controls and overrides survive as data. */
static void test_json_log_finding(void **state)
{
  (void)state;
  struct sample sample = sample_new();
  json_t *root = parsed(&sample);
  const json_t *finding = json_array_get(json_object_get(root, "findings"), 0);
  assert_true(number_at(finding, "measured") == 118.0);
  assert_string_equal(text_at(finding, "unit"), "degC");
  assert_true(number_at(finding, "limit") == 5.0);
  assert_string_equal(text_at(finding, "limit_unit"), "K");
  assert_string_equal(text_at(finding, "title"), "Coolant \x1b[2Jgets too hot");
  assert_string_equal(text_at(finding, "message"), "Coolant reached 118 degC for \xE2\x80\xAE"
                                                   "2.6 s\xE2\x80\xAC.");
  assert_null_at(finding, "verify");
  const json_t *evidence = json_array_get(json_object_get(finding, "evidence"), 0);
  assert_true(number_at(evidence, "start") == 12.4);
  assert_true(number_at(evidence, "end") == 15.0);
  assert_null_at(evidence, "value");
  json_decref(root);
  arena_free(sample.arena);
}

static void test_json_problems(void **state)
{
  (void)state;
  struct sample sample = sample_new();
  problems_add(&sample.problems, sample_place("Sandpiper"), "no such \xFF bird");
  problems_hint(&sample.problems, "look up");
  problems_add(&sample.problems, PLACE_NONE, "nowhere");
  sample.outcome.problems = &sample.problems;
  json_t *root = parsed(&sample);
  const json_t *problems = json_object_get(root, "problems");
  assert_int_equal(json_array_size(problems), 2);
  assert_null_at(json_array_get(problems, 0), "file");
  const json_t *placed = json_array_get(problems, 1);
  assert_string_equal(text_at(placed, "file"), "settings.yaml");
  assert_int_equal(number_at(placed, "line"), 2);
  assert_int_equal(number_at(placed, "column"), 13);
  assert_string_equal(text_at(placed, "message"), "no such \xEF\xBF\xBD bird");
  assert_string_equal(text_at(placed, "hint"), "look up");
  json_decref(root);
  arena_free(sample.arena);
}

/* Numbers print short: the rounding of a unit conversion is not shown, and no infinity breaks the format. */
static void test_json_numbers(void **state)
{
  (void)state;
  struct sample sample = sample_new();
  struct finding *finding = ARENA_ARRAY(sample.arena, 1, struct finding);
  *finding = sample_warm_up(sample.arena);
  sample.outcome.findings = finding;
  sample.outcome.finding_count = 1;
  static const struct {
    const char *unit;
    double value;
    const char *shown;
  } rows[] = {{"degC", 0.1, "\"measured\":0.1,"},    {"degF", 0.0, "\"measured\":0.0,"},
              {"psi", 14.7, "\"measured\":14.7,"},   {"%", 101.0, "\"measured\":101.0,"},
              {"rpm", 6500, "\"measured\":6500.0,"}, {"kPa", -0.0, "\"measured\":0.0,"}};
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    finding->measured = sample_quantity(rows[i].unit, rows[i].value);
    finding->has_limit = false;
    char *text = sample_write(&sample, report_json, false);
    if (strstr(text, rows[i].shown) == NULL)
      fail_msg("%s is not in %s", rows[i].shown, text);
    free(text);
  }
  finding->measured.value = 1e308 * 10;
  json_t *root = parsed(&sample);
  assert_null_at(json_array_get(json_object_get(root, "findings"), 0), "measured");
  json_decref(root);
  arena_free(sample.arena);
}

/* The same bytes twice. */
static void test_json_repeats(void **state)
{
  (void)state;
  struct sample sample = sample_new();
  char *one = sample_write(&sample, report_json, false), *two = sample_write(&sample, report_json, true);
  assert_string_equal(one, two);
  free(one);
  free(two);
  arena_free(sample.arena);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_json_pinned_names), cmocka_unit_test(test_json_report),
      cmocka_unit_test(test_json_finding),      cmocka_unit_test(test_json_log_finding),
      cmocka_unit_test(test_json_problems),     cmocka_unit_test(test_json_numbers),
      cmocka_unit_test(test_json_repeats),
  };
  return cmocka_run_group_tests_name("report/json", tests, NULL, NULL);
}
