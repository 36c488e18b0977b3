/* The command line, and what `keyway audit` makes of it. */
#include "cli/line.h"
#include "cli/request.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define WORDS_MOST 16

struct bench {
  struct arena *arena;
  struct problems problems;
  struct line line;
  bool read;
};

/* Splits at blanks: no word of these tests holds one. */
static struct bench read_line(const char *words)
{
  struct bench bench = {.arena = arena_new()};
  problems_init(&bench.problems, bench.arena, PROBLEM_OF_USAGE);
  char *argv[WORDS_MOST + 1] = {NULL};
  int argc = 0;
  char *text = arena_text(bench.arena, slice_of(words));
  for (char *at = text; *at != '\0' && argc < WORDS_MOST;) {
    argv[argc++] = at;
    at += strcspn(at, " ");
    if (*at == ' ')
      *at++ = '\0';
  }
  bench.read = line_read(bench.arena, argc, argv, &bench.line, &bench.problems);
  return bench;
}

static void assert_refused(const char *words, const char *message, const char *hint)
{
  struct bench bench = read_line(words);
  struct request request;
  bool done = bench.read && request_read(bench.arena, &bench.line, &request, &bench.problems);
  if (done || bench.problems.count == 0)
    fail_msg("'%s' was taken", words);
  assert_string_equal(bench.problems.items[0].message, message);
  if (hint == NULL)
    assert_null(bench.problems.items[0].hint);
  else
    assert_string_equal(bench.problems.items[0].hint, hint);
  assert_true(problems_has(&bench.problems, PROBLEM_OF_USAGE));
  arena_free(bench.arena);
}

static struct request taken(struct bench *bench, const char *words)
{
  *bench = read_line(words);
  struct request request;
  assert_true(bench->read);
  assert_int_equal(bench->line.command, COMMAND_AUDIT);
  assert_true(request_read(bench->arena, &bench->line, &request, &bench->problems));
  assert_int_equal(bench->problems.count, 0);
  return request;
}

static void test_line_commands(void **state)
{
  (void)state;
  static const struct {
    const char *words;
    enum command_id command;
    size_t arguments;
  } rows[] = {{"keyway audit a", COMMAND_AUDIT, 1},
              {"keyway explain r", COMMAND_EXPLAIN, 1},
              {"keyway list", COMMAND_LIST, 0},
              {"keyway prove", COMMAND_PROVE, 0},
              {"keyway prove a b", COMMAND_PROVE, 2},
              {"keyway convert a --adapter b", COMMAND_CONVERT, 1},
              {"keyway draft a --log", COMMAND_DRAFT, 1},
              {"keyway sheet --for a", COMMAND_SHEET, 0},
              {"keyway checklist --stage dyno", COMMAND_CHECKLIST, 0},
              {"keyway help", COMMAND_HELP, 0},
              {"keyway help audit", COMMAND_HELP, 1},
              {"keyway --help", COMMAND_HELP, 0},
              {"keyway audit --help", COMMAND_HELP, 1},
              {"keyway audit a b c", COMMAND_AUDIT, 3},
              {"keyway log a b", COMMAND_LOG, 2},
              {"keyway audit -- --log", COMMAND_AUDIT, 1},
              {"keyway audit -", COMMAND_AUDIT, 1}};
  size_t seen = 0;
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    struct bench bench = read_line(rows[i].words);
    assert_true(bench.read);
    assert_int_equal(bench.line.command, rows[i].command);
    assert_int_equal(bench.line.argument_count, rows[i].arguments);
    assert_false(bench.line.version);
    seen |= (size_t)1 << rows[i].command;
    arena_free(bench.arena);
  }
  assert_int_equal(seen, ((size_t)1 << COMMAND_COUNT) - 1);
  struct bench bench = read_line("keyway --version");
  assert_true(bench.read && bench.line.version);
  arena_free(bench.arena);
}

static void test_line_options(void **state)
{
  (void)state;
  struct bench bench;
  struct request request = taken(&bench, "keyway audit one --log=a=b.csv --job j.yaml two --rules p --rules=q -- --x");
  assert_int_equal(request.log_count, 1);
  assert_string_equal(request.logs[0], "a=b.csv");
  assert_string_equal(request.job, "j.yaml");
  assert_int_equal(request.settings_count, 3);
  assert_string_equal(request.settings[1], "two");
  assert_string_equal(request.settings[2], "--x");
  assert_int_equal(request.rules_count, 2);
  assert_string_equal(request.rules[1], "q");
  arena_free(bench.arena);
}

static void test_request_defaults(void **state)
{
  (void)state;
  struct bench bench;
  struct request request = taken(&bench, "keyway audit one");
  assert_int_equal(request.log_count, 0);
  assert_null(request.root);
  assert_false(request.has_stage);
  assert_int_equal(request.fail_on, SEVERITY_FIX);
  assert_int_equal(request.need, 1);
  assert_true(request.rate == 0.0);
  assert_int_equal(request.color, COLOR_AUTO);
  assert_false(request.stats);
  assert_int_equal(request.output_count, 1);
  assert_string_equal(request.outputs[0].format->name, "text");
  assert_null(request.outputs[0].file);
  arena_free(bench.arena);
}

static void test_request_values(void **state)
{
  (void)state;
  struct bench bench;
  struct request request = taken(&bench, "keyway audit one --stage delivery --fail-on never --need 12 --rate 25Hz "
                                         "--color never --stats --root /srv");
  assert_true(request.has_stage);
  assert_int_equal(request.stage, STAGE_DELIVERY);
  assert_int_equal(request.fail_on, SEVERITY_NONE);
  assert_int_equal(request.need, 12);
  assert_true(request.rate == 25.0);
  assert_int_equal(request.color, COLOR_NEVER);
  assert_true(request.stats);
  assert_string_equal(request.root, "/srv");
  arena_free(bench.arena);
  request = taken(&bench, "keyway audit one --rate 12.5 --threads 3");
  assert_true(request.rate == 12.5);
  assert_int_equal(request.threads, 3);
  arena_free(bench.arena);
  request = taken(&bench, "keyway audit one --threads 0");
  assert_int_equal(request.threads, 0);
  arena_free(bench.arena);
}

static void test_request_outputs(void **state)
{
  (void)state;
  struct bench bench;
  struct request request = taken(&bench, "keyway audit one --output o.txt");
  assert_int_equal(request.output_count, 1);
  assert_string_equal(request.outputs[0].file, "o.txt");
  arena_free(bench.arena);
  request = taken(&bench, "keyway audit one --format text --format json --output o.json");
  assert_int_equal(request.output_count, 2);
  assert_null(request.outputs[0].file);
  assert_string_equal(request.outputs[1].format->name, "json");
  assert_string_equal(request.outputs[1].file, "o.json");
  arena_free(bench.arena);
  request = taken(&bench, "keyway audit one --format json --output - --format text --output t");
  assert_null(request.outputs[0].file);
  assert_string_equal(request.outputs[1].file, "t");
  arena_free(bench.arena);
}

static void test_line_refusals(void **state)
{
  (void)state;
  static const struct {
    const char *words, *message, *hint;
  } rows[] = {
      {"keyway", "no command was given", "'keyway help' names them; 'keyway audit SETTINGS' audits a settings file"},
      {"keyway audti a", "unknown command 'audti'", "did you mean 'audit'?"},
      {"keyway frobnicate a", "unknown command 'frobnicate'", "'keyway help' names the commands"},
      {"keyway --log a audit", "the command comes first, and '--log' is none", "'keyway help' names the commands"},
      {"keyway audit", "'audit' needs SETTINGS...", "see 'keyway help audit'"},
      {"keyway explain", "'explain' needs RULE", "see 'keyway help explain'"},
      {"keyway explain a b", "'explain' takes RULE, and was given 'b' as well", "see 'keyway help explain'"},
      {"keyway list a", "'list' takes no argument, and was given 'a'", "see 'keyway help list'"},
      {"keyway audit a --stge look", "unknown option '--stge'", "did you mean '--stage'?"},
      {"keyway audit a --fail_on=fix", "unknown option '--fail_on'", "did you mean '--fail-on'?"},
      {"keyway audit a --frobnicate", "unknown option '--frobnicate'", "'keyway help audit' names its options"},
      {"keyway audit a -l x", "unknown option '-l'", "options begin with two dashes; a file named so goes behind '--'"},
      {"keyway list --job a", "'list' takes no option '--job'", NULL},
      {"keyway audit a --log", "'--log' needs a value: FILE", NULL},
      {"keyway audit a --log=", "'--log' needs a value: FILE", NULL},
      {"keyway audit a --log --job b", "'--log' needs a value: FILE", NULL},
      {"keyway audit a --log b --log b", "the log 'b' was given twice", NULL},
      {"keyway audit a --stats=yes", "'--stats' takes no value", NULL},
      {"keyway audit a --stage road", "'--stage' takes look|dyno|delivery, not 'road'", NULL},
      {"keyway audit a --fail-on none", "'--fail-on' takes stop|fix|check|note|never, not 'none'", NULL},
      {"keyway audit a --color red", "'--color' takes auto|always|never, not 'red'", NULL},
      {"keyway audit a --need 0", "'--need' takes a whole number from 1 to 1000000000, not '0'",
       "nothing checked is never a pass"},
      {"keyway audit a --need 1x", "'--need' takes a whole number from 1 to 1000000000, not '1x'", NULL},
      {"keyway audit a --need 99999999999999999999999",
       "'--need' takes a whole number from 1 to 1000000000, not '99999999999999999999999'", NULL},
      {"keyway audit a --threads two", "'--threads' takes a whole number from 0 to 64, not 'two'", NULL},
      {"keyway audit a --threads 65", "'--threads' takes a whole number from 0 to 64, not '65'", NULL},
      {"keyway audit a --threads -1", "'--threads' takes a whole number from 0 to 64, not '-1'", NULL},
      {"keyway audit a --threads 99999999999999999999999",
       "'--threads' takes a whole number from 0 to 64, not '99999999999999999999999'", NULL},
      {"keyway audit a --rate 0", "'--rate' must be over 0 Hz and at most 1000000 Hz, not '0'", NULL},
      {"keyway audit a --rate -5", "'--rate' must be over 0 Hz and at most 1000000 Hz, not '-5'", NULL},
      {"keyway audit a --rate 1e9", "'--rate' must be over 0 Hz and at most 1000000 Hz, not '1e9'", NULL},
      {"keyway audit a --rate 5kPa", "'--rate' takes samples per second such as \"25 Hz\", not '5kPa'", NULL},
      {"keyway audit a --format xml", "'--format' takes text|json, not 'xml'", NULL},
      {"keyway audit a --format text --format json", "two reports would go to standard output",
       "follow each '--format' by its '--output FILE'"},
      {"keyway audit a --output x --format json", "'--output x' stands before the '--format' it belongs to", NULL},
      {"keyway audit a --format json --output x --output y", "'--output' was given twice for one format: 'x' and 'y'",
       NULL},
      {"keyway audit a --format json --output x --format text --output x", "two reports would go to 'x'", NULL},
  };
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
    assert_refused(rows[i].words, rows[i].message, rows[i].hint);
}

/* All mistakes are told at once. */
static void test_line_all_mistakes(void **state)
{
  (void)state;
  struct bench bench = read_line("keyway audit --lgo x --need --stats=1");
  assert_false(bench.read);
  assert_true(bench.problems.count >= 3);
  arena_free(bench.arena);
}

/* Each row of the catalogues is whole. */
static void test_line_catalogues(void **state)
{
  (void)state;
  for (size_t i = 0; i < OPTION_COUNT; i++) {
    assert_true(strlen(line_options[i].name) > 1 && strlen(line_options[i].help) > 10);
    assert_true(line_options[i].commands != 0 && line_options[i].commands < 1u << COMMAND_COUNT);
    for (size_t j = 0; j < i; j++)
      assert_true(strcmp(line_options[i].name, line_options[j].name) != 0 ||
                  (line_options[i].commands & line_options[j].commands) == 0);
  }
  for (size_t i = 0; i < COMMAND_COUNT; i++)
    assert_true(line_commands[i].least <= line_commands[i].most && strlen(line_commands[i].about) > 10);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_line_commands),     cmocka_unit_test(test_line_options),
      cmocka_unit_test(test_request_defaults),  cmocka_unit_test(test_request_values),
      cmocka_unit_test(test_request_outputs),   cmocka_unit_test(test_line_refusals),
      cmocka_unit_test(test_line_all_mistakes), cmocka_unit_test(test_line_catalogues),
  };
  return cmocka_run_group_tests_name("cli/line", tests, NULL, NULL);
}
